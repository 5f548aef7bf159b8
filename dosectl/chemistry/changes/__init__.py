"""What changes the water by itself: loss of chlorine by cause, organic load, combined chlorine, rain and evaporation."""
