"""The families of settings of a brief: under which heading each stands on a page, and what they are about in one line."""

from enum import Enum


class Family(Enum):
    """A family of settings: its heading, and what it decides."""

    HOURS = ("Hours of work", "When crews may be on site. A building's own hours and a crew's shift narrow it further.")
    OUTAGES = ("Outages and the way there", "How long rooms may be dark, and what a crew needs around that.")
    CARE = ("How careful verdicts are", "What is kept in reserve before a cable is trusted with the new bus.")
    STOCK = ("Deliveries and spares", "When bought parts count as there, and what must stay on the shelf.")
    MONEY = ("Money", "Rates that the cost of orders, and so the budget of a phase, is reckoned with.")
    CHANGES = ("Moving and pulling", "Price and time of what a way out changes beside the conversion itself.")
    METHODS = (
        "Methods",
        "Which ways to replace a model are taken where there are several. Names as on the sheet Methods.",
    )
    SPREAD = (
        "Luck of the steps",
        "How far a step may miss its minutes: what the odds of the page How sure are drawn from.",
    )
    BOOKED = ("What is booked already", "What a plan that goes on from another may do to nights that rooms were told.")
    WEIGHTS = (
        "What counts how much",
        "The plan with the least sum is the best. Only how the weights stand to each other matters.",
    )

    def __init__(self, title: str, meaning: str) -> None:
        self.title = title
        self.meaning = meaning
