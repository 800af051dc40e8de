"""Cited functions: wire, heat, fuse, short circuit, relay, battery, tach, bundle."""
