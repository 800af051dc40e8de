"""What records mean: elements of each circuit, lead and part; key, hands, unit, engine; routes."""
