"""Addresses of the pages that need verdicts or plans too. Keep one block a place, in the order of the top line."""

from django.urls import URLPattern, path, register_converter

from planner.views import (
    ageing,
    campus,
    comparison,
    feeds,
    intake,
    jobs,
    materials,
    moves,
    order_choices,
    places,
    plans,
    records,
    scenarios,
    search,
    segments,
    spares,
    stations,
    surveys,
    ways_out,
    words,
    work,
    workbook,
)
from planner.views.keys import KeyConverter

register_converter(KeyConverter, "key")

urlpatterns: list[URLPattern] = [
    # Campus
    path("", campus.campus, name="campus"),
    path("ageing/", ageing.ageing, name="ageing"),
    path("buildings/<int:pk>/", places.building, name="building"),
    path("rooms/<int:pk>/", places.room, name="room"),
    # Stations
    path("stations/", stations.stations, name="stations"),
    path("stations/<int:pk>/", stations.station, name="station"),
    path("stations/<int:pk>/failures/", stations.report, name="report-failure"),
    # Segments
    path("segments/", segments.segments, name="segments"),
    path("segments/assess/", segments.assess, name="assess"),
    path("segments/survey/", surveys.survey, name="survey"),
    path("segments/survey/workbook/", surveys.workbook, name="survey-workbook"),
    path("segments/survey/sheets/", surveys.sheets, name="survey-sheets"),
    path("segments/of/<key:key>/", segments.segment, name="segment"),
    path("segments/of/<key:key>/drawing/", segments.drawing, name="segment-drawing"),
    path("segments/of/<key:key>/readings/", segments.read, name="segment-read"),
    path("segments/of/<key:key>/way-out/", segments.way_out, name="way-out"),
    path("segments/of/<key:key>/way-out/take/", ways_out.take_one, name="way-out-take"),
    path("segments/of/<key:key>/way-out/give-up/", ways_out.give_one_up, name="way-out-give-up"),
    path("segments/ways-out/", ways_out.taken_ways, name="taken-ways"),
    path("segments/ways-out/take/", ways_out.take_below, name="take-below"),
    # Plans
    path("plans/", plans.plans, name="plans"),
    path("plans/brief/", plans.brief, name="brief"),
    path("plans/by-hand/", order_choices.order_choices, name="order-choices"),
    path("plans/by-hand/<int:pk>/keep/", order_choices.keep_choice, name="order-choice-keep"),
    path("plans/by-hand/<int:pk>/take-back/", order_choices.drop_choice, name="order-choice-drop"),
    path("plans/<int:pk>/", plans.plan, name="plan"),
    path("plans/compare/", comparison.compare, name="plan-compare"),
    path("plans/briefs/<int:pk>/", scenarios.scenario, name="scenario"),
    path("plans/briefs/<int:pk>/copy/", scenarios.copy, name="scenario-copy"),
    path("plans/briefs/<int:pk>/closures/holding/", scenarios.lift, name="scenario-lift"),
    path("plans/briefs/<int:pk>/keep/<str:what>/", scenarios.keep, name="scenario-keep"),
    path("plans/<int:pk>/orders/", plans.orders, name="plan-orders"),
    path("plans/<int:pk>/again/", moves.again, name="plan-again"),
    path("orders/<int:pk>/move/", moves.move, name="order-move"),
    path("orders/<int:pk>/put-off/", moves.put_off, name="order-put-off"),
    path("plans/<int:pk>/spares/", spares.spares, name="plan-spares"),
    path("plans/<int:pk>/adopt/", plans.adopt_plan, name="plan-adopt"),
    path("plans/<int:pk>/hand-over/", plans.hand_over, name="plan-handover"),
    path("orders/<int:pk>/", plans.order, name="order"),
    path("orders/<int:pk>/work/", work.order_work, name="order-work"),
    path("orders/<int:pk>/work/entries/", work.order_entry, name="order-entry"),
    path("orders/<int:pk>/pack/", work.order_pack, name="order-pack"),
    path("plans/<int:pk>/packs/", work.plan_packs, name="plan-packs"),
    path("plans/<int:pk>/notices/", feeds.notices, name="plan-notices"),
    path("feeds/", feeds.feeds, name="feeds"),
    path("feeds/open/", feeds.open_one, name="feed-open"),
    path("feeds/<int:pk>/end/", feeds.end_one, name="feed-end"),
    path("feeds/<str:token>.ics", feeds.feed, name="feed"),
    path("photographs/<int:pk>/", work.photograph, name="photograph"),
    # Materials
    path("materials/", materials.materials, name="materials"),
    # Intake
    path("intake/", intake.start, name="intake"),
    path("intake/calendars/", intake.calendars, name="intake-calendars"),
    path("intake/<int:pk>/", intake.job, name="intake-job"),
    path("intake/<int:pk>/take/", intake.take, name="intake-take"),
    path("intake/<int:pk>/marked/", intake.marked, name="intake-marked"),
    # Background work
    path("jobs/<int:pk>/", jobs.job, name="job"),
    path("jobs/<int:pk>/state/", jobs.state, name="job-state"),
    path("jobs/<int:pk>/stop/", jobs.stop, name="job-stop"),
    path("jobs/<int:pk>/again/", jobs.again, name="job-again"),
    path("jobs/<int:pk>/file/", jobs.file, name="job-file"),
    # Records
    *records.addresses(),
    # Reference
    path("search/", search.search, name="search"),
    path("words/", words.words, name="words"),
    path("workbook/", workbook.workbook, name="workbook"),
    path("workbook/blank/", workbook.blank, name="workbook-blank"),
    path("workbook/filled/", workbook.filled, name="workbook-filled"),
]
