"""What a person asks of the water: how much, in what portions, with what side effects, how sure, and what must never meet.

`water` is a pool as tested; `dosing` brings it to a target; `dechlorination` and `coming_down` lead down; `assays` tells what a
test is worth; `mixing` what must never meet. Numbers and warnings only: nothing here feeds, and nothing decides.
"""
