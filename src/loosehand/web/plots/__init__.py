"""Pictures drawn on the server: values in, SVG out."""
