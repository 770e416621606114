"""The demo world: an invented firm, its things, what happened to them, and 22 faults worth finding."""
