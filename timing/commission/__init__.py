"""Commissioning: the steps from first power to hand-over, as values that sheet, terminal and page show alike."""
