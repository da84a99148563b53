"""What all candidates share: rules, power, yardsticks, field, motors."""
