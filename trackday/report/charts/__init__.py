"""Pictures of a plan as inline SVG, made by pure functions; colors and patterns are the page's."""
