"""Buses, nodes, runs, and what stations do."""

from django.db import models
from django.db.models import F, Q

from inventory.models.catalogue import Cable, EquipmentModel, Protocol
from inventory.models.fields import History, Key, not_below_zero, one_of
from inventory.models.places import Building, Room
from inventory.workbook.choices import ENDS_ITS_BUS
from inventory.workbook.columns import LONGEST_RUN_M


class Bus(models.Model):
    """What the records call one line."""

    key = Key(unique=True)
    building = models.ForeignKey(Building, models.PROTECT, related_name="buses")
    protocol = models.ForeignKey(Protocol, models.PROTECT, null=True, blank=True, related_name="buses")
    bit_rate_kbit_s = models.FloatField(null=True, blank=True)
    history = History()

    class Meta:
        ordering = ["key"]
        verbose_name_plural = "buses"
        constraints = not_below_zero("bus", "bit_rate_kbit_s")

    def __str__(self) -> str:
        return self.key


class Node(models.Model):
    """One piece of equipment on a bus; a gateway names two to four buses, every other node at most one."""

    key = Key(unique=True)
    building = models.ForeignKey(Building, models.PROTECT, related_name="nodes")
    room = models.ForeignKey(Room, models.PROTECT, null=True, blank=True, related_name="nodes")
    model = models.ForeignKey(EquipmentModel, models.PROTECT, related_name="nodes")
    bus = models.ForeignKey(Bus, models.PROTECT, null=True, blank=True, related_name="nodes")
    bus_2 = models.ForeignKey(Bus, models.PROTECT, null=True, blank=True, related_name="nodes_2")
    bus_3 = models.ForeignKey(Bus, models.PROTECT, null=True, blank=True, related_name="nodes_3")
    bus_4 = models.ForeignKey(Bus, models.PROTECT, null=True, blank=True, related_name="nodes_4")
    serial = models.TextField(null=True, blank=True)
    installed = models.DateField(null=True, blank=True)
    condition = models.PositiveSmallIntegerField(null=True, blank=True)
    zones_used = models.PositiveIntegerField(null=True, blank=True)
    scenes_used = models.PositiveIntegerField(null=True, blank=True)
    box_gangs = models.PositiveIntegerField(null=True, blank=True)
    ends_bus = models.TextField(null=True, blank=True)
    note = models.TextField(null=True, blank=True)
    history = History()

    class Meta:
        ordering = ["key"]
        constraints = [
            models.CheckConstraint(
                condition=Q(condition__isnull=True) | Q(condition__range=(1, 5)), name="node_condition"
            ),
            one_of("node", "ends_bus", ENDS_ITS_BUS),
        ]
        indexes = [
            models.Index(fields=["installed"], name="node_by_age"),
            models.Index(fields=["serial"], name="node_by_serial", condition=Q(serial__isnull=False)),
        ]

    def __str__(self) -> str:
        return self.key


class Run(models.Model):
    """One cable between two nodes on a bus."""

    key = Key(unique=True)
    bus = models.ForeignKey(Bus, models.PROTECT, related_name="runs")
    from_node = models.ForeignKey(Node, models.PROTECT, related_name="runs_from")
    to_node = models.ForeignKey(Node, models.PROTECT, related_name="runs_to")
    cable = models.ForeignKey(Cable, models.PROTECT, null=True, blank=True, related_name="runs")
    length_m = models.FloatField(null=True, blank=True)
    surveyed = models.DateField(null=True, blank=True)
    history = History()

    class Meta:
        ordering = ["key"]
        constraints = [
            models.CheckConstraint(condition=~Q(from_node=F("to_node")), name="run_two_ends"),
            models.CheckConstraint(
                condition=Q(length_m__isnull=True) | Q(length_m__range=(0, LONGEST_RUN_M)), name="run_length"
            ),
        ]

    def __str__(self) -> str:
        return self.key


class Zone(models.Model):
    """What one slider or button of a station does."""

    node = models.ForeignKey(Node, models.CASCADE, related_name="zones")
    key = Key()
    label = models.TextField(null=True, blank=True)
    panel = models.ForeignKey(Node, models.PROTECT, null=True, blank=True, related_name="commanded_by")
    circuit = models.TextField(null=True, blank=True)
    lowest_pct = models.FloatField(null=True, blank=True)
    highest_pct = models.FloatField(null=True, blank=True)
    history = History()

    class Meta:
        ordering = ["node__key", "key"]
        constraints = [
            models.UniqueConstraint(fields=["node", "key"], name="zone_once"),
            *not_below_zero("zone", "lowest_pct", "highest_pct"),
        ]

    def __str__(self) -> str:
        return f"{self.node.key} {self.key}"


class Scene(models.Model):
    """One stored scene of a station."""

    node = models.ForeignKey(Node, models.CASCADE, related_name="scenes")
    key = Key()
    label = models.TextField(null=True, blank=True)
    levels = models.TextField(null=True, blank=True)
    history = History()

    class Meta:
        ordering = ["node__key", "key"]
        constraints = [models.UniqueConstraint(fields=["node", "key"], name="scene_once")]

    def __str__(self) -> str:
        return f"{self.node.key} {self.key}"
