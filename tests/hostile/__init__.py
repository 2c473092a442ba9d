"""Hostile input: every form that comes from elsewhere, altered, cut, grown and made up."""
