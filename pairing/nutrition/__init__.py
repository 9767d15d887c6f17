"""Energy, label rounding, intake limits and cautions: pure functions, each with its source."""
