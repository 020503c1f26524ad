"""Earlier forecasts on the loopback, in the provider's form, from a table of hourly rain."""

from __future__ import annotations

import json

import numpy as np
import pandas as pd
from pytest_httpserver import HTTPServer
from werkzeug import Request, Response

PATH = "/previous/v1/forecast"
UNITS = {
    "temperature_2m": "°C",
    "dew_point_2m": "°C",
    "precipitation": "mm",
    "cloud_cover": "%",
    "wind_speed_10m": "m/s",
    "shortwave_radiation": "W/m²",
    "surface_pressure": "hPa",
}


class PreviousStandIn:
    """Answers with `rain_mm` (UTC hours), whatever the lead, and nulls for the other variables.

    Hours that it does not hold are nulls. `asked` lists the parameters of every request; `fail`
    makes those whose days begin in this year fail.
    """

    def __init__(self, server: HTTPServer, rain_mm: pd.Series) -> None:
        self.url = server.url_for(PATH)
        self.rain_mm = rain_mm
        self.asked: list[dict[str, str]] = []
        self.fail: str | None = None
        server.expect_request(PATH).respond_with_handler(self._answer)

    def _answer(self, request: Request) -> Response:
        params = dict(request.args)
        self.asked.append(params)
        if self.fail is not None and params["start_date"].startswith(self.fail):
            return Response(json.dumps({"error": True, "reason": "closed today"}), status=400)
        hours = pd.date_range(
            params["start_date"], f"{params['end_date']} 23:00", freq="h", tz="UTC"
        )
        rain = self.rain_mm.reindex(hours).to_numpy(dtype=float)
        nothing = [None] * len(hours)
        keys = params["hourly"].split(",")
        data = {
            "utc_offset_seconds": 0,
            "hourly_units": {key: UNITS[key.split("_previous_day")[0]] for key in keys}
            | {"time": "unixtime"},
            "hourly": {
                key: [None if np.isnan(value) else value for value in rain.tolist()]
                if key.startswith("precipitation_")
                else nothing
                for key in keys
            }
            | {"time": hours.as_unit("s").asi8.tolist()},
        }
        return Response(json.dumps(data), content_type="application/json")
