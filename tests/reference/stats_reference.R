# A second opinion from R on what Python has no library for: run lengths of normal CUSUM charts (package spc) and
# Newey-West errors (package sandwich). Also base R's glm for the segmented regressions themselves.
#
#     Rscript stats_reference.R OUT.jsonl [seed]
#
# Needs R with spc, sandwich and jsonlite (Debian: r-base-core r-cran-spc r-cran-sandwich r-cran-jsonlite). Writes the same
# lines as stats_reference.py: first the versions, then one function, its arguments and the wanted figures per line.

suppressPackageStartupMessages({
  library(spc)
  library(sandwich)
  library(jsonlite)
})

arguments <- commandArgs(trailingOnly = TRUE)
if (length(arguments) < 1) stop("usage: Rscript stats_reference.R OUT.jsonl [seed]")
seed <- if (length(arguments) > 1) as.integer(arguments[2]) else 20240611L
out <- file(arguments[1], open = "w")
line <- function(value) writeLines(toJSON(value, digits = NA, auto_unbox = TRUE), out)
row <- function(name, args, want) line(list(`function` = name, args = args, want = want))

line(list(versions = list(
  R = as.character(getRversion()), spc = as.character(packageVersion("spc")),
  sandwich = as.character(packageVersion("sandwich"))
), seed = seed))

# Normal CUSUM: xcusum.arl, xcusum.q and xcusum.crit. r is the number of quadrature nodes.
set.seed(seed)
for (i in 1:220) {
  k <- runif(1, 0, 1.5); h <- runif(1, 0.3, 6)
  start <- if (runif(1) < 0.4) runif(1, 0, h / 2) else 0
  shift <- if (runif(1) < 0.3) 0 else runif(1, -0.5, 3)
  one <- xcusum.arl(k, h, shift, hs = start, sided = "one", r = 80)
  two <- xcusum.arl(k, h, shift, hs = start, sided = "two", r = 80)
  if (one < 1e7) row("r_normal_mean", list(k, h, start, shift), c(one, two))
}
for (i in 1:220) {
  k <- runif(1, 0.1, 1); h <- runif(1, 1, 4.5); shift <- runif(1, 0, 2)
  alpha <- runif(1, 0.05, 0.95)
  row("r_normal_quantile", list(k, h, shift, alpha), xcusum.q(k, h, shift, alpha, hs = 0, sided = "one", r = 60))
}
for (i in 1:220) {
  k <- runif(1, 0.1, 1); mean <- 10^runif(1, 1.3, 4)
  row("r_normal_limit", list(k, mean), c(
    xcusum.crit(k, mean, sided = "one", r = 60), xcusum.crit(k, mean, sided = "two", r = 60)
  ))
}

# Segmented regression with Newey-West errors, coding of time since from 1.
for (i in 1:220) {
  n <- sample(c(24, 36, 48, 60, 120), 1); before <- sample(8:(n - 8), 1); lag <- sample(0:6, 1)
  time <- 1:n; after <- as.numeric(time > before); since <- pmax(0, time - before)
  exposure <- round(runif(n, 200, 2000), 2)
  mean <- exposure * exp(runif(1, -3, -1) + rnorm(1, 0, 0.5) * time / n + rnorm(1, -0.3, 0.4) * after)
  y <- rpois(n, mean * rgamma(n, 20, 20))
  control <- glm.control(epsilon = 1e-14, maxit = 100)
  fit <- glm(y ~ time + after + since, family = poisson, offset = log(exposure), control = control)
  hac <- NeweyWest(fit, lag = lag, prewhite = FALSE, adjust = TRUE)
  row("r_segmented_poisson", list(before, "one", 0, "newey-west", lag, y, exposure), c(
    coef(fit) / sqrt(diag(hac)) + 10, sqrt(diag(hac)), sum(residuals(fit, "pearson")^2) / (n - 4), deviance(fit)
  ))
}
for (i in 1:220) {
  n <- sample(c(24, 36, 48, 60, 120), 1); before <- sample(8:(n - 8), 1); lag <- sample(0:6, 1)
  time <- 1:n; after <- as.numeric(time > before); since <- pmax(0, time - before)
  y <- 3 + 0.5 * time / n - 0.4 * after + as.numeric(arima.sim(list(ar = 0.5), n, sd = 0.3))
  fit <- lm(y ~ time + after + since)
  hac <- NeweyWest(fit, lag = lag, prewhite = FALSE, adjust = TRUE)
  row("r_segmented_least_squares", list(before, "one", 0, "newey-west", lag, y), c(
    coef(fit) / sqrt(diag(hac)) + 10, sqrt(diag(hac)), sigma(fit)^2, deviance(fit)
  ))
}
close(out)
