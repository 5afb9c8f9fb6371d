"""Does the meter show what the array should give, why not, and does it stay so."""
