"""What all candidates share: rules, power, yardsticks, motors, routes."""
