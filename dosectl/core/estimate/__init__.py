"""What is in the water: free chlorine, demand, sun, electrode, stabiliser, pH, with how sure that is.

All filtering lives here. Pure; reads no clock, feeds nothing, and guards never see it.
"""

from dosectl.core.estimate.begin import start
from dosectl.core.estimate.filter import update
from dosectl.core.estimate.params import EstimateParams
from dosectl.core.estimate.state import Estimate, EstimateInputs, WaterView
from dosectl.core.estimate.view import water

__all__ = ["Estimate", "EstimateInputs", "EstimateParams", "WaterView", "start", "update", "water"]
