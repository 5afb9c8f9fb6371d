"""House batteries: voltages and limits by chemistry, fault current, and their state of charge."""
