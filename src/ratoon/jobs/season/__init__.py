"""What lies ahead: forecast, stops, fuel, plan and its bridge, the notice to growers."""
