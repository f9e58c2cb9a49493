"""Plans, their orders and their take-off, as stored."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from inventory.models import Building
from planner.core.plans import OrderState
from planner.models.assessment import Assessment
from planner.models.briefs import Brief

STATES = tuple(state.value for state in OrderState)
AFRESH, AGAIN, BY_HAND = ORIGINS = ("afresh", "again", "by hand")


class Plans(models.Manager["Plan"]):
    """All plans."""

    def current(self) -> "Plan | None":
        """Return the plan adopted last, else the newest, else None."""
        return self.select_related("brief").order_by(F("adopted").desc(nulls_last=True), "-made", "-pk").first()

    def adopted(self) -> "Plan | None":
        """Return the plan adopted last, else None."""
        return self.select_related("brief").filter(adopted__isnull=False).order_by("-adopted", "-pk").first()


class Plan(models.Model):
    """One finished plan of one brief.

    `settings_used`, `crews_used`, `phases_used` are the brief's as used; `check_lines`, `phases` as planner.core.plans;
    `remarks` what the brief cannot do, though a plan was made; `changes` against the plan it goes on from, as
    planner.core.replanning. `origin` says whether it was planned afresh, planned again, or moved by hand.
    """

    brief = models.ForeignKey(Brief, models.PROTECT, related_name="plans")
    assessment = models.ForeignKey(Assessment, models.PROTECT, related_name="plans")  # the verdicts it was made from
    made = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="plans")
    settings_used = models.JSONField(default=dict)
    method = models.TextField()
    objective = models.BigIntegerField()
    bound = models.BigIntegerField()
    gap = models.FloatField()
    list_objective = models.BigIntegerField()
    listed = models.JSONField(default=list)  # the plain list, as planner.core.plans.Placed
    settled = models.PositiveIntegerField(default=0)  # orders that were not free to be planned
    settled_objective = models.BigIntegerField(default=0)  # what they alone come to
    seed = models.IntegerField()
    seconds = models.FloatField()
    check_lines = models.JSONField(default=list)
    phases = models.JSONField(default=list)
    crews_used = models.JSONField(default=list)
    phases_used = models.JSONField(default=list)
    remarks = models.JSONField(default=list)
    origin = models.TextField(default=AFRESH)
    goes_on_from = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="followers")
    changes = models.JSONField(default=list)
    counted = models.DateTimeField(null=True, blank=True)  # when its take-off was last counted; null: when it was made
    adopted = models.DateTimeField(null=True, blank=True)
    adopted_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")

    objects = Plans()

    class Meta:
        ordering = ["-made", "-id"]
        constraints = [models.CheckConstraint(condition=Q(origin__in=ORIGINS), name="plan_origin")]

    def __str__(self) -> str:
        return f"{self.brief.name}, {self.made:%Y-%m-%d %H:%M}"

    @property
    def free_gap(self) -> float | None:
        """How far what was free to be planned is from the best at most; None where nothing was."""
        own = self.objective - self.settled_objective
        return (self.objective - self.bound) / own if own > 0 else None


class Adoption(models.Model):
    """That a plan was agreed on: who, when, and in place of which. `changes` counts orders by what became of them."""

    plan = models.ForeignKey(Plan, models.PROTECT, related_name="adoptions")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")
    in_place_of = models.ForeignKey(Plan, models.PROTECT, null=True, blank=True, related_name="+")
    changes = models.JSONField(default=dict)

    class Meta:
        ordering = ["-at", "-id"]

    def __str__(self) -> str:
        return f"{self.plan_id}, {self.at:%Y-%m-%d %H:%M}"


class Order(models.Model):
    """One order of one plan; `data` is planner.core.plans.Order as JSON. Unplanned: no crew, and a reason."""

    plan = models.ForeignKey(Plan, models.CASCADE, related_name="orders")
    key = models.TextField()
    building = models.ForeignKey(Building, models.PROTECT, related_name="orders")
    state = models.TextField(default=OrderState.DRAFTED.value)
    stations = models.PositiveIntegerField()
    people = models.PositiveIntegerField()
    outage_min = models.PositiveIntegerField()
    onsite_min = models.PositiveIntegerField()
    benefit = models.FloatField()
    cost = models.DecimalField(max_digits=16, decimal_places=2)
    currency = models.TextField()
    crew = models.TextField(null=True, blank=True)
    phase = models.TextField(null=True, blank=True)
    night = models.DateField(null=True, blank=True)
    start = models.DateTimeField(null=True, blank=True)
    end = models.DateTimeField(null=True, blank=True)
    dark_from = models.DateTimeField(null=True, blank=True)
    dark_to = models.DateTimeField(null=True, blank=True)
    reason_code = models.TextField(null=True, blank=True)
    reason = models.TextField(null=True, blank=True)
    not_before = models.DateField(null=True, blank=True)  # put off: no earlier night when it is planned again
    goes_on_from = models.ForeignKey("self", models.SET_NULL, null=True, blank=True, related_name="followers")
    data = models.JSONField()

    class Meta:
        ordering = ["plan_id", F("start").asc(nulls_last=True), "key"]
        constraints = [
            models.UniqueConstraint(fields=["plan", "key"], name="order_once"),
            models.CheckConstraint(condition=Q(state__in=STATES), name="order_state"),
            models.CheckConstraint(condition=Q(start__isnull=True) | Q(end__gt=F("start")), name="order_span"),
            models.CheckConstraint(
                condition=Q(start__isnull=False) | Q(reason__isnull=False), name="order_planned_or_reason"
            ),
        ]

    def __str__(self) -> str:
        return self.key


class OrderEvent(models.Model):
    """What happened to an order: the state it came into, or that it was put off, when, by whom and why.

    `mended` is what was done about the reason for which it was backed out.
    """

    order = models.ForeignKey(Order, models.CASCADE, related_name="events")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")
    state = models.TextField()
    not_before = models.DateField(null=True, blank=True)
    why = models.TextField(null=True, blank=True)
    mended = models.TextField(null=True, blank=True)

    class Meta:
        ordering = ["-at", "-id"]
        constraints = [models.CheckConstraint(condition=Q(state__in=STATES), name="orderevent_state")]

    def __str__(self) -> str:
        return f"{self.order_id} {self.state}"


class TakeoffLine(models.Model):
    """One part in one phase of one plan; see planner.core.materials.TakeoffLine."""

    plan = models.ForeignKey(Plan, models.CASCADE, related_name="takeoff")
    phase = models.TextField()
    part = models.TextField()
    description = models.TextField(null=True)
    unit = models.TextField(null=True)
    supplier = models.TextField(null=True)
    gross = models.DecimalField(max_digits=16, decimal_places=4)
    allowance = models.DecimalField(max_digits=16, decimal_places=4)
    from_stock = models.DecimalField(max_digits=16, decimal_places=4)
    from_freed = models.DecimalField(max_digits=16, decimal_places=4)
    from_due = models.DecimalField(max_digits=16, decimal_places=4, default=0)
    net = models.DecimalField(max_digits=16, decimal_places=4)
    pack = models.DecimalField(max_digits=16, decimal_places=4)
    packs = models.PositiveIntegerField()
    bought = models.DecimalField(max_digits=16, decimal_places=4)
    price = models.DecimalField(max_digits=16, decimal_places=4, null=True)
    currency = models.TextField(null=True)
    cost = models.DecimalField(max_digits=16, decimal_places=2, null=True)
    first_need = models.DateField(null=True)
    short_on = models.DateField(null=True)
    order_by = models.DateField(null=True)
    lead_time_days = models.PositiveIntegerField(null=True)
    note = models.TextField(null=True)

    class Meta:
        ordering = ["plan_id", F("order_by").asc(nulls_last=True), "phase", "part"]
        constraints = [models.UniqueConstraint(fields=["plan", "phase", "part"], name="takeoffline_once")]

    def __str__(self) -> str:
        return f"{self.phase} {self.part}"
