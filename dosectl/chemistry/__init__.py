"""Laws of pool water: pure functions of water, products, sun, electrodes and feeders.

Nothing here reads a clock, a file or a socket, and nothing here decides. Units are in the names: free chlorine and
HOCl in mg/L as Cl2, cyanuric acid in mg/L as cyanuric acid, alkalinity and calcium hardness in mg/L as CaCO3, salt
in g/L as NaCl, pH as -log10 of the activity of H+.
"""
