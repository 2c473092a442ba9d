"""What each place tells, as lines of cells: shared by screens and plain output."""
