"""A control chart as a picture: SVG, PNG or a page, in the house's own look."""
