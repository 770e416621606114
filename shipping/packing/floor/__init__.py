"""A deck planned in rows from the headboard: stacks, rows, their order by stops and axles, and the plan's record."""
