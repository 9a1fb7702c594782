"""Units in (text such as "0.12 mm") and out; each kind's unit, bounds and meaning said once."""
