//! Numbers only: intervals, charts, sequential tests, agreement, regression, forecasts.
