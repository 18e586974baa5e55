"""The ear's marks and a calibrated photo become measurands, a verdict and post lengths."""
