"""What must be made and bought, when: opening stock, netting, starts, safety stock, who goes without."""
