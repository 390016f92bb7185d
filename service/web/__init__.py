"""THE HTML DOOR: pages that explain, for people who follow a link."""
