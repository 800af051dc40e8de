"""Elements of a direct-current network and its solvers; knows no record and no trade word."""
