"""How well chlorine is held: dosectl, the ways people do it today, and one who knows everything, on the same simulated pools."""
