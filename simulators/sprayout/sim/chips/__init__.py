"""Chips of the virtual board at register level, on a simulated I2C bus."""
