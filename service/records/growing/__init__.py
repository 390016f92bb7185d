"""What happens in the yard: sprays, licences to grow."""
