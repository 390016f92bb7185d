"""Offers, reservations, deliveries and what follows."""
