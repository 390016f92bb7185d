"""What the service sends: letters from the outbox."""
