"""An address that leads nowhere."""
