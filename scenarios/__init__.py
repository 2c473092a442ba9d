"""The farm's stories as data, played through the real commands; and the invented herd of the demo."""
