"""Array configuration: every series and parallel arrangement, judged, powered and ranked."""
