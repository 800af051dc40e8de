"""How relays settle, for the Promela text: every order in which those that are tied may move.

Relays whose coils hang on one another's contacts make a group. Each group is followed in C, from
the tables as constants: every place that one relay's move at a time can lead to, then the places
where it may stay. Where there are several, SPIN is told how many and chooses. Nothing of the
explorer is used but the tables.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

import numpy as np

from startwright.car.start_control import MODE
from startwright.prove.promela_text import word
from startwright.prove.tables import Table, TooLarge, arity

if TYPE_CHECKING:
    from startwright.prove.promela import Writer

MOST_TIED = 20
"""Relays that hang on one another have 2 to this many places: a million, each of which may have to
be met, and kept, for every situation in which they race."""

FOLLOWED = """
  /* What can come of a group of relays, whatever moves first; see `moves_to`. */
  typedef struct Race { int group, from; int at[MOST_COILS]; int count, bad, cycles; int *ends;
    struct Race *next; } Race;
  static Race *races[4096];
  static unsigned char *met, *mark; static int *found;
  static int follow(int group, int from, int flag) { /* marks all that can come; how many */
    int n = 0, done = 0, k, to;
    found[n++] = from; mark[from] |= flag;
    while (done < n) { int place = found[done++];
      for (k = 0; k < SIZE[group]; k++) { to = moves_to(group, k, place);
        if (to != place && !(mark[to] & flag)) { mark[to] |= flag; found[n++] = to; } } }
    return n; }
  static Race *race(int group, int from) {
    int k, n, i, to, changed, left, *all; unsigned h = from * 31 + group; Race *r;
    for (k = 0; k < SIZE[group]; k++) h = h * 1000003u + base[FIRST[group] + k];
    for (r = races[h % 4096]; r; r = r->next) {
      for (k = 0; k < SIZE[group] && r->at[k] == base[FIRST[group] + k]; k++) ;
      if (r->group == group && r->from == from && k == SIZE[group]) return r; }
    if (!mark) { mark = calloc(MOST_PLACES, 1); found = malloc(MOST_PLACES * sizeof(int)); }
    r = calloc(1, sizeof(Race)); r->group = group; r->from = from;
    for (k = 0; k < SIZE[group]; k++) r->at[k] = base[FIRST[group] + k];
    r->next = races[h % 4096]; races[h % 4096] = r;
    n = follow(group, from, 1);
    all = malloc(n * sizeof(int)); memcpy(all, found, n * sizeof(int));
    r->ends = malloc(n * sizeof(int));
    /* bit 1: no cycle can be met from there on */
    do { changed = 0;
      for (i = n - 1; i >= 0; i--) if (!(mark[all[i]] & 2)) { int open = 0;
        for (k = 0; k < SIZE[group]; k++) { to = moves_to(group, k, all[i]);
          if (to != all[i] && !(mark[to] & 2)) open = 1; }
        if (!open) { mark[all[i]] |= 2; changed = 1; } }
    } while (changed);
    for (i = 0; i < n; i++) if (!(mark[all[i]] & 2)) r->bad = r->cycles = 1;
    /* bit 4: decided. Take any place, go down until all that follows leads back to it. */
    for (left = 0; left < n; left++) if (!(mark[all[left]] & 4)) { int at = all[left], bottom, m;
      do { for (i = 0; i < n; i++) mark[all[i]] &= 7;
        m = follow(group, at, 8);
        mark[at] |= 16; /* bit 16: leads back to it */
        do { changed = 0;
          for (i = m - 1; i >= 0; i--) if (!(mark[found[i]] & 16))
            for (k = 0; k < SIZE[group]; k++) { to = moves_to(group, k, found[i]);
              if (to != found[i] && (mark[to] & 16)) { mark[found[i]] |= 16; changed = 1; break; } }
        } while (changed);
        bottom = 1;
        for (i = 0; i < m; i++) if (!(mark[found[i]] & 16)) { at = found[i]; bottom = 0; break; }
      } while (!bottom);
      if (r->count) r->bad = 1;
      for (i = 0; i < m; i++) { mark[found[i]] |= 4; r->ends[r->count++] = found[i]; }
      /* all that leads into it is decided too: its other ends are found from themselves */
      do { changed = 0;
        for (i = n - 1; i >= 0; i--) if (!(mark[all[i]] & 4)) {
          for (k = 0; k < SIZE[group]; k++) { to = moves_to(group, k, all[i]);
            if (to != all[i] && (mark[to] & 4)) { mark[all[i]] |= 4; changed = 1; break; } } }
      } while (changed); }
    for (i = 0; i < n; i++) mark[all[i]] = 0;
    free(all);
    return r; }
  /* The place of a group at rest: where a single order is left it is gone to at once. */
  static Race *rest(int group, int *place) {
    int turn, k, to = *place, next, many;
    for (turn = 0; turn < 2 * SIZE[group] + 2; turn++) {
      for (many = k = 0; k < SIZE[group]; k++) { next = moves_to(group, k, *place);
        if (next != *place) { to = next; many++; } }
      if (!many) return 0;
      if (many > 1) break;
      *place = to; }
    return race(group, *place); }
"""
"""The places of a group are numbers: one bit a coil, the first coil highest."""


def settling(writer: Writer) -> Iterator[str]:
    """C that settles the relays, and the inlines `settle` (told `pick`) and `settle_open`."""
    coils = writer.coils
    yield "c_decl {"
    for lead, driven in writer.model.outs.items():
        data = _listed(driven.astype(int).ravel().tolist())
        yield f"  static const unsigned char DRIVEN_{word(lead)}[] = {data};"
    yield "}"
    yield "inline settle_open() {"
    yield "  c_code { settle_opened(); }" if coils else "  skip"
    yield "}"
    yield "inline settle() {"
    yield "  c_code { now.many = settled(now.many ? now.pick : -1); }; pick = 0"
    yield "}"
    if not coils:
        yield "c_code { static int settled(int pick) { return 0; } }"
        return
    groups = tied(writer)
    order = [k for g in groups for k in g]
    tables = [writer.model.coils[coils[k]] for k in order]
    yield "c_code {"
    yield f"#define MOST_COILS {max(map(len, groups))}"
    yield f"#define MOST_PLACES {1 << max(map(len, groups))}"
    yield f"  static const int SIZE[] = {_listed(map(len, groups))};"
    firsts = np.cumsum([0, *map(len, groups)])[:-1]
    yield f"  static const int FIRST[] = {_listed(firsts.tolist())};"
    yield f"  static int base[{len(order)}];"
    for k, table in enumerate(tables):
        yield f"  static const unsigned char COIL_{k}[] = {_listed(table.data.ravel().tolist())};"
    yield "  static void find_bases(int open) {"
    for k, table in enumerate(tables):
        terms = [f"{s}*({in_c(writer, v)})" for v, s in strides(table) if v[:5] != "coil."]
        yield f"    base[{k}] = {' + '.join(terms) or '0'};"
    yield "  }"
    yield "  static int moves_to(int group, int k, int place) { int v;"
    yield "    switch (FIRST[group] + k) {"
    at = {coils[k]: (len(g), i) for g in groups for i, k in enumerate(g)}
    for k, table in enumerate(tables):
        index = f"base[{k}]"
        for v, stride in strides(table):
            if v[:5] == "coil.":
                size, i = at[v[5:]]
                index += f" + {stride}*((place >> {size - 1 - i}) & 1)"
        yield f"    case {k}: v = COIL_{k}[{index}]; break;"
    yield "    default: v = 2; }"
    yield "    k = 1 << (SIZE[group] - 1 - k);"
    yield "    return v == 2 ? place : v ? place | k : place & ~k; }"
    yield FOLLOWED
    yield f"  static void put(int group, int place, unsigned char *coil[{len(order)}]) {{ int k;"
    yield "    for (k = 0; k < SIZE[group]; k++)"
    yield "      *coil[FIRST[group] + k] = (place >> (SIZE[group] - 1 - k)) & 1; }"
    yield f"  static int got(int group, unsigned char *coil[{len(order)}]) {{ int k, place = 0;"
    yield "    for (k = 0; k < SIZE[group]; k++) place = place * 2 + *coil[FIRST[group] + k];"
    yield "    return place; }"
    here = ", ".join("&now." + word(f"coil.{coils[k]}") for k in order)
    there = ", ".join(f"&now.co_{word(coils[k])}" for k in order)
    count = len(groups)
    yield f"  static int settled(int pick) {{ unsigned char *coil[] = {{ {here} }};"
    yield f"    Race *r[{count}]; int g, k, place, many = 1, stays = now.chattered; find_bases(0);"
    yield f"    for (g = 0; stays && g < {count}; g++) {{ Race *now_at;"
    yield "      place = got(g, coil); now_at = race(g, place); stays = 0;"
    yield "      for (k = 0; k < now_at->count; k++) if (now_at->ends[k] == place) stays = 1; }"
    yield "    if (stays) return 0;"
    yield f"    for (g = 0; g < {count}; g++) {{ place = got(g, coil);"
    yield "      r[g] = rest(g, &place); put(g, place, coil);"
    yield "      if (r[g]) { many *= r[g]->count; if (r[g]->bad) breach(SETTLES); } }"
    yield "    if (pick < 0 && many > 1) return many;"
    yield f"    for (g = 0; g < {count}; g++) if (r[g]) {{ int p = pick < 0 ? 0 : pick;"
    yield "      if (r[g]->cycles) now.chattered = 1;"
    yield "      put(g, r[g]->ends[p % r[g]->count], coil); pick = p / r[g]->count; }"
    yield "    return 0; }"
    yield f"  static void settle_opened() {{ unsigned char *coil[] = {{ {there} }};"
    yield f"    unsigned char *shut[] = {{ {here} }};"
    yield f"    int g, k, place; Race *r; for (k = 0; k < {len(order)}; k++) *coil[k] = *shut[k];"
    yield f"    find_bases(1); for (g = 0; g < {count}; g++) {{ place = got(g, coil);"
    yield "      if ((r = rest(g, &place)) != 0) { place = r->ends[0];"
    yield "        for (k = 1; k < r->count; k++) if (r->ends[k] < place) place = r->ends[k]; }"
    yield "      put(g, place, coil); } }"
    yield "}"


def tied(writer: Writer) -> list[list[int]]:
    """The groups of relays that depend on one another, in the order of the relays.

    Raises
    ------
    TooLarge
        Where a group has more places than can be kept.
    """
    coils = writer.coils
    names = {f"coil.{c}": k for k, c in enumerate(coils)}
    of = list(range(len(coils)))
    for k, coil in enumerate(coils):
        for v in writer.model.coils[coil].over:
            if v in names and of[names[v]] != of[k]:
                old, new = of[names[v]], of[k]
                of = [new if g == old else g for g in of]
    groups = [[k for k in range(len(coils)) if of[k] == g] for g in dict.fromkeys(of)]
    for group in groups:
        if len(group) > MOST_TIED:
            told = ", ".join(coils[k] for k in group)
            raise TooLarge(
                f"{len(group)} relays hang on one another ({told}): 2^{len(group)} places, "
                f"of which every order is followed; up to {MOST_TIED} can be written out"
            )
    return groups


def strides(table: Table) -> list[tuple[str, int]]:
    """How far apart neighbouring values of each variable stand in the flattened table."""
    stride, out = 1, []
    for v in reversed(table.over):
        out.append((v, stride))
        stride *= arity(v)
    return out


def in_c(writer: Writer, variable: str, opened: bool | None = None) -> str:
    """What stands for a variable of a table in C; outputs open if the C variable `open` says so."""
    if variable.startswith("out."):
        lead, presses = variable[4:], len(writer.model.presses)
        if opened:
            return "0"
        driven = f"DRIVEN_{word(lead)}[now.start*{presses}+now.press]"
        return f"open ? 0 : {driven}" if opened is None else driven
    if variable == "power":
        return "now.motion == 1 ? 1 : now.motion == 2 ? 2 : 0"
    if variable == "engine":
        return "now.motion == 2"
    if variable == MODE and opened is None:
        return f"open ? 0 : now.{word(MODE)}"
    if variable.startswith("coil_o.") or (opened and variable.startswith("coil.")):
        return f"now.co_{word(variable.split('.', 1)[1])}"
    return f"now.{word(variable)}"


def _listed(values: Iterable[int]) -> str:
    return "{" + ",".join(str(int(v)) for v in values) + "}"
