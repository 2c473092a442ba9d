"""Widgets that show lines, clocks and accounts; none knows the farm."""
