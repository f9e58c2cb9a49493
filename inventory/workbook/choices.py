"""What a cell may hold whose column offers a choice; the models keep to the same words."""

from inventory.core.readings import Quantity

NODE_KINDS = ("station", "gateway", "panel", "controller", "sensor", "supply", "junction", "other")
LAYOUTS = ("line", "tree", "any")
ENDS_ITS_BUS = ("yes", "no", "switch")
CONDUCTOR_CLASSES = ("solid", "stranded", "class 1", "class 2", "class 5")
EXTRAS = ("end resistor", "local supply", "box adapter", "larger supply", "lower bit rate")
PER = ("station", "cable end", "segment", "gateway", "order")
READINGS = tuple(quantity.value for quantity in Quantity)
STEP_PER = ("station", "segment", "gateway", "order")
OUTCOMES = ("repaired", "replaced", "removed")
CLOSURE_KINDS = ("keep out", "welcome")
