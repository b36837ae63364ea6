"""Statistics as pictures: SVG, PNG or a page, in the house's own look."""
