"""The catalogue: protocols, cables, models, methods, parts."""

from django.db import models
from django.db.models import Q

from inventory.core.saying import number_words
from inventory.models.fields import History, Key, at_least, not_below_zero, one_of
from inventory.workbook.choices import (
    CONDUCTOR_CLASSES,
    ENDS_ITS_BUS,
    EXTRAS,
    LAYOUTS,
    NODE_KINDS,
    PER,
    READINGS,
    STEP_PER,
)

LENGTHS = (
    "longest_bus_m",
    "longest_stub_m",
    "all_stubs_m",
    "farthest_pair_m",
    "total_wire_m",
    "less_per_node_m",
    "less_per_stub_m",
)


class Protocol(models.Model):
    """A bus standard or in-house bus by name; its limits stand in ProtocolRate, one row a bit rate."""

    key = Key(unique=True)
    history = History()

    class Meta:
        ordering = ["key"]

    def __str__(self) -> str:
        return self.key


class ProtocolRate(models.Model):
    """Limits of one protocol at one bit rate. `built_in` rows come from protocols.toml."""

    protocol = models.ForeignKey(Protocol, models.PROTECT, related_name="rates")
    bit_rate_kbit_s = models.FloatField(null=True, blank=True)
    layout = models.TextField(null=True, blank=True)
    longest_bus_m = models.FloatField(null=True, blank=True)
    longest_stub_m = models.FloatField(null=True, blank=True)
    all_stubs_m = models.FloatField(null=True, blank=True)
    farthest_pair_m = models.FloatField(null=True, blank=True)
    total_wire_m = models.FloatField(null=True, blank=True)
    less_per_node_m = models.FloatField(null=True, blank=True)
    less_per_stub_m = models.FloatField(null=True, blank=True)
    most_nodes = models.PositiveIntegerField(null=True, blank=True)
    most_unit_loads = models.FloatField(null=True, blank=True)
    ends = models.PositiveSmallIntegerField(null=True, blank=True)
    end_ohm = models.FloatField(null=True, blank=True)
    lowest_impedance_ohm = models.FloatField(null=True, blank=True)
    highest_impedance_ohm = models.FloatField(null=True, blank=True)
    data_conductor = models.TextField(null=True, blank=True)
    power_on_bus = models.BooleanField(null=True, blank=True)
    source = models.TextField(null=True, blank=True)
    built_in = models.BooleanField(default=False)
    history = History()

    class Meta:
        ordering = ["protocol__key", "bit_rate_kbit_s", "id"]
        constraints = [
            models.UniqueConstraint(fields=["protocol", "bit_rate_kbit_s"], name="protocolrate_once"),
            models.UniqueConstraint(
                fields=["protocol"], condition=Q(bit_rate_kbit_s__isnull=True), name="protocolrate_once_without_rate"
            ),
            one_of("protocolrate", "layout", LAYOUTS),
            *not_below_zero("protocolrate", *LENGTHS, "bit_rate_kbit_s", "most_unit_loads", "end_ohm"),
        ]

    def __str__(self) -> str:
        return (
            f"{self.protocol.key} {'' if self.bit_rate_kbit_s is None else number_words(self.bit_rate_kbit_s)}".strip()
        )


class Part(models.Model):
    """What purchasing buys."""

    key = Key(unique=True)
    description = models.TextField(null=True, blank=True)
    unit = models.TextField(null=True, blank=True)
    pack = models.DecimalField(max_digits=16, decimal_places=4, null=True, blank=True)
    price = models.DecimalField(max_digits=16, decimal_places=4, null=True, blank=True)
    currency = models.TextField(null=True, blank=True)
    lead_time_days = models.PositiveIntegerField(null=True, blank=True)
    supplier = models.TextField(null=True, blank=True)
    on_hand = models.DecimalField(max_digits=16, decimal_places=4, null=True, blank=True)
    spare_allowance_pct = models.DecimalField(max_digits=8, decimal_places=3, null=True, blank=True)
    history = History()

    class Meta:
        ordering = ["key"]
        constraints = not_below_zero("part", "pack", "price", "on_hand", "spare_allowance_pct")

    def __str__(self) -> str:
        return self.key


class Cable(models.Model):
    """One kind of cable."""

    key = Key(unique=True)
    power_conductor = models.TextField(null=True, blank=True)
    power_pairs = models.PositiveSmallIntegerField(null=True, blank=True)
    conductor_class = models.TextField(null=True, blank=True)
    data_pairs = models.PositiveSmallIntegerField(null=True, blank=True)
    data_conductor = models.TextField(null=True, blank=True)
    impedance_ohm = models.FloatField(null=True, blank=True)
    screened = models.BooleanField(null=True, blank=True)
    category = models.TextField(null=True, blank=True)
    part = models.ForeignKey(Part, models.PROTECT, null=True, blank=True, related_name="cables")
    history = History()

    class Meta:
        ordering = ["key"]
        constraints = [one_of("cable", "conductor_class", CONDUCTOR_CLASSES), *not_below_zero("cable", "impedance_ohm")]

    def __str__(self) -> str:
        return self.key


class EquipmentModel(models.Model):
    """What a node is; called a model everywhere but here, where Django has that word."""

    key = Key(unique=True)
    kind = models.TextField()
    description = models.TextField(null=True, blank=True)
    protocol = models.ForeignKey(Protocol, models.PROTECT, null=True, blank=True, related_name="+")
    protocol_2 = models.ForeignKey(Protocol, models.PROTECT, null=True, blank=True, related_name="+")
    draw_w = models.FloatField(null=True, blank=True)
    lowest_supply_v = models.FloatField(null=True, blank=True)
    supply_v = models.FloatField(null=True, blank=True)
    supply_rating_w = models.FloatField(null=True, blank=True)
    unit_loads = models.FloatField(null=True, blank=True)
    ends_bus = models.TextField(null=True, blank=True)
    zones = models.PositiveIntegerField(null=True, blank=True)
    scenes = models.PositiveIntegerField(null=True, blank=True)
    box_gangs = models.PositiveIntegerField(null=True, blank=True)
    last_sold = models.DateField(null=True, blank=True)
    supported_until = models.DateField(null=True, blank=True)
    service_life_years = models.FloatField(null=True, blank=True)
    part = models.ForeignKey(Part, models.PROTECT, null=True, blank=True, related_name="models")
    history = History()

    class Meta:
        ordering = ["key"]
        verbose_name = "model"
        constraints = [
            models.CheckConstraint(condition=Q(kind__in=NODE_KINDS), name="model_kind"),
            one_of("model", "ends_bus", ENDS_ITS_BUS),
            *not_below_zero(
                "model", "draw_w", "lowest_supply_v", "supply_v", "supply_rating_w", "unit_loads", "service_life_years"
            ),
        ]

    def __str__(self) -> str:
        return self.key


class Method(models.Model):
    """One way to replace an old model by a new one."""

    key = Key(unique=True)
    old_model = models.ForeignKey(EquipmentModel, models.PROTECT, related_name="methods_from")
    new_model = models.ForeignKey(EquipmentModel, models.PROTECT, related_name="methods_to")
    new_protocol = models.ForeignKey(Protocol, models.PROTECT, related_name="methods")
    bit_rate_kbit_s = models.FloatField(null=True, blank=True)
    old_gateway_model = models.ForeignKey(EquipmentModel, models.PROTECT, null=True, blank=True, related_name="+")
    new_gateway_model = models.ForeignKey(EquipmentModel, models.PROTECT, null=True, blank=True, related_name="+")
    patch_cable = models.ForeignKey(Cable, models.PROTECT, null=True, blank=True, related_name="+")
    patch_lead_m = models.FloatField(null=True, blank=True)
    caution = models.TextField(null=True, blank=True)
    history = History()

    class Meta:
        ordering = ["key"]
        constraints = not_below_zero("method", "bit_rate_kbit_s", "patch_lead_m")

    def __str__(self) -> str:
        return self.key


class MethodPart(models.Model):
    """One line of a method's parts list."""

    method = models.ForeignKey(Method, models.CASCADE, related_name="parts")
    part = models.ForeignKey(Part, models.PROTECT, related_name="uses")
    quantity = models.DecimalField(max_digits=16, decimal_places=4)
    per = models.TextField()
    when = models.TextField(default="always")
    history = History()

    class Meta:
        ordering = ["method__key", "part__key", "per", "when"]
        constraints = [
            models.UniqueConstraint(fields=["method", "part", "per", "when"], name="methodpart_once"),
            models.CheckConstraint(condition=Q(per__in=PER), name="methodpart_per"),
            models.CheckConstraint(condition=Q(when__in=("always", *EXTRAS)), name="methodpart_when"),
            *not_below_zero("methodpart", "quantity"),
        ]

    def __str__(self) -> str:
        return f"{self.method.key} {self.part.key}"


class MethodStep(models.Model):
    """One step of a method."""

    method = models.ForeignKey(Method, models.CASCADE, related_name="steps")
    step = models.PositiveIntegerField()
    text = models.TextField()
    per = models.TextField(null=True, blank=True)
    minutes = models.FloatField(null=True, blank=True)
    shortest_min = models.FloatField(null=True, blank=True)
    longest_min = models.FloatField(null=True, blank=True)
    people = models.PositiveIntegerField(null=True, blank=True)
    outage = models.BooleanField(null=True, blank=True)
    hold_point = models.BooleanField(null=True, blank=True)
    reading = models.TextField(null=True, blank=True)
    history = History()

    class Meta:
        ordering = ["method__key", "step"]
        constraints = [
            models.UniqueConstraint(fields=["method", "step"], name="methodstep_once"),
            models.CheckConstraint(condition=Q(per__in=STEP_PER), name="methodstep_per"),
            models.CheckConstraint(condition=Q(reading__in=READINGS), name="methodstep_reading"),
            at_least("methodstep", "people", 1),
            *not_below_zero("methodstep", "minutes", "shortest_min", "longest_min"),
        ]

    def __str__(self) -> str:
        return f"{self.method.key} {self.step}"


class MethodPin(models.Model):
    """Where one signal of the new bus lands."""

    method = models.ForeignKey(Method, models.CASCADE, related_name="pins")
    signal = models.TextField()
    old_conductor = models.TextField(null=True, blank=True)
    terminal = models.TextField(null=True, blank=True)
    rj45_pin = models.PositiveSmallIntegerField(null=True, blank=True)
    source = models.TextField(null=True, blank=True)
    history = History()

    class Meta:
        ordering = ["method__key", "rj45_pin", "signal", "id"]
        constraints = [
            models.UniqueConstraint(fields=["method", "signal", "rj45_pin"], name="methodpin_once"),
            models.UniqueConstraint(
                fields=["method", "signal"], condition=Q(rj45_pin__isnull=True), name="methodpin_once_without_pin"
            ),
            models.CheckConstraint(
                condition=Q(rj45_pin__isnull=True) | Q(rj45_pin__range=(1, 8)), name="methodpin_pin"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.method.key} {self.signal}"
