"""The places of the dashboard, one screen each."""
