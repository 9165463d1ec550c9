"""From scenario to batch: which factor goes where."""
