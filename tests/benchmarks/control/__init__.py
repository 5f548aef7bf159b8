"""How well chlorine is held: dosectl, the ways people do it today, and one who knows everything, on the same simulated pools.

The simulated pool is no independent plant. It and dosectl's estimate share the forms of their laws, out of the same room
`chemistry` and with the same published constants: the equilibrium of chlorine and stabiliser, what sunlight takes of each
kind of chlorine, demand that doubles with each 10 degrees, an electrode that goes with the logarithm. Not shared are the
figures: each pool draws its own volume, sun, demand, electrode, feeder and weather, and dosectl knows of them what an owner
would type in. So the comparison shows how well what is unknown of a pool is learnt, not what happens in a pool of other laws.
Of the rivals, those with an electrode use its logarithm when they trim, and nothing else of all this.
"""
