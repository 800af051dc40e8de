"""Startwright: wiring of remote-start control units, planned, sized, proven and printed."""
