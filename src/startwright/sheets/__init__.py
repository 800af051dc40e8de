"""Printed pages and drawings: the loom as SVG, the bench sheet as PDF."""
