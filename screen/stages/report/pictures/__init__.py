"""Pictures: profiles, cores and the map, as inline SVG with real text."""
