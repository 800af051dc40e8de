# Two commands are enough on a fresh machine:
#   make run    the app, on the invented shop, in the browser (PORT=8321 chooses the port)
#   make test   every check and every test
# Also: check, bench, spin, docs, vendor, lock, clean.

SHELL := /bin/bash
.SHELLFLAGS := -euo pipefail -c
.DEFAULT_GOAL := help
MAKEFLAGS += --no-builtin-rules

PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
UV := .boot/bin/uv
VENDOR := src/startwright/web/static/vendor
PORT ?=

export UV_PYTHON_DOWNLOADS := never
export PIP_DISABLE_PIP_VERSION_CHECK := 1

.PHONY: help run test check bench spin docs vendor lock clean debian env env-dev

help:
	@sed -n '2,4p' Makefile | sed 's/^# //'

run: env vendor
	@$(BIN)/startwright try $(if $(PORT),--port $(PORT))

test: debian check
	@$(BIN)/pytest -n auto --maxprocesses 4 --dist loadfile

check: env-dev vendor
	@$(BIN)/ruff check .
	@$(BIN)/ruff format --check .
	@$(BIN)/mypy
	@$(BIN)/lint-imports

bench: env-dev vendor
	@for file in bench/*.py; do case "$$(basename $$file)" in _*) continue;; esac; \
	  echo "== $$file"; $(BIN)/python "$$file"; done

# Two hundred random wirings explored by SPIN as well, in four minutes or so on two cores; the tests
# take a spread of them.
spin: debian env-dev
	@SPIN_ALL=1 $(BIN)/pytest -n auto --maxprocesses 4 tests/outside/test_spin.py

docs: env-dev
	@$(BIN)/python docs/generate.py

# What the tests take from the system: a browser, and independent judges.
debian:
	@bash .ci/debian

env: $(VENV)/.run-stamp
env-dev: $(VENV)/.dev-stamp

$(UV): boot.txt
	@bash .ci/boot "$(PYTHON)"
	@touch $@

$(BIN)/python: | $(UV)
	@$(UV) venv --quiet --allow-existing --python "$(PYTHON)" $(VENV)

$(VENV)/.run-stamp: requirements.txt pyproject.toml | $(BIN)/python
	@$(UV) pip install --quiet --python $(BIN)/python --require-hashes -r requirements.txt
	@$(UV) pip install --quiet --python $(BIN)/python --no-deps --no-build-isolation --editable .
	@touch $@

$(VENV)/.dev-stamp: requirements-dev.txt pyproject.toml | $(BIN)/python
	@$(UV) pip install --quiet --python $(BIN)/python --require-hashes -r requirements-dev.txt
	@$(UV) pip install --quiet --python $(BIN)/python --no-deps --no-build-isolation --editable .
	@touch $@

vendor: $(VENDOR)/.stamp

$(VENDOR)/.stamp: package-lock.json .ci/vendor | $(UV)
	@bash .ci/vendor $(VENDOR)

# After changing pyproject.toml or package.json.
lock: $(UV)
	$(UV) --no-config pip compile pyproject.toml --group build --universal --python-version 3.11 \
	  --generate-hashes --no-header --quiet -o requirements.txt
	$(UV) --no-config pip compile pyproject.toml --group dev --extra fast -c requirements.txt \
	  --universal --python-version 3.11 --generate-hashes --no-header --quiet -o requirements-dev.txt
	$(UV) --no-config pip compile --group node --universal --python-version 3.11 \
	  --generate-hashes --no-header --quiet -o requirements-node.txt
	echo uv | $(UV) --no-config pip compile - --universal --python-version 3.11 \
	  --generate-hashes --no-header --no-annotate --quiet -o boot.txt

clean:
	rm -rf .boot $(VENV) node_modules $(VENDOR) dist build .pytest_cache .mypy_cache .ruff_cache \
	  .hypothesis .import_linter_cache
