"""What is likely to be asked for: methods for steady, seasonal and intermittent demand, chosen by what they missed by."""
