"""Forms: what is asked before an act is written down."""
