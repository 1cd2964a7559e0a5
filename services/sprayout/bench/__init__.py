"""What one bench knows at this moment: plain values that the station keeps and the page shows."""
