"""The region: plans, supply, demand and shortfall."""
