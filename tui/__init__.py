"""The dashboard: what a keeper looks at in the barn. It sees the farm through its one door alone."""
