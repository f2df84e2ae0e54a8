# Two-sided equicoordinate critical values of the multivariate t. Writes mvt.json (about half an hour on one core).
#
# c solves P(max |T_i| <= c) = level. A first c comes from quadrature (product-form correlations) or from a coarse search
# (any other); then mvtnorm::pmvt is asked for P at that c with an error bound worth 5e-5 in c, and one Newton step with
# the slope dP/dc gives `critical`. pmvt's own bound (about 99 % by its documentation) gives `error`.
source(file.path(dirname(normalizePath(sub("^--file=", "", grep("^--file=", commandArgs(FALSE), value = TRUE)[1]))),
                 "tools.R"))
library(mvtnorm)

dfs <- c(2, 3, 4, 5, 6, 8, 10, 15, 20, 30, 50, 100)
levels <- c(0.95, 0.90)
target <- 5e-5  # wanted error in c

product_matrix <- function(lambda) {
  r <- outer(lambda, lambda)
  diag(r) <- 1
  r
}

# P(max |T_i| <= c) for rho_ij = lambda_i lambda_j: trapezoid rules in z (a normal) and log s (s^2 ~ chi2_df / df).
product_probability <- function(c, lambda, df, points = 500) {
  z <- seq(-9, 9, length.out = points)
  wz <- dnorm(z) / sum(dnorm(z))
  u <- seq(log(sqrt(qchisq(1e-14, df) / df)), log(sqrt(qchisq(1e-14, df, lower.tail = FALSE) / df)),
           length.out = points)
  ws <- exp(df * u - df * exp(2 * u) / 2 - max(df * u - df * exp(2 * u) / 2))
  ws <- ws / sum(ws)
  inside <- matrix(1, points, points)
  for (l in lambda) {
    tau <- sqrt(1 - l^2)
    high <- outer(c * exp(u), l * z, `-`) / tau
    low <- outer(-c * exp(u), l * z, `-`) / tau
    inside <- inside * (pnorm(high) - pnorm(low))
  }
  drop(ws %*% inside %*% wz)
}

simulated <- function(c, r, df, abseps, seed = 1) {
  set.seed(seed)
  k <- nrow(r)
  p <- pmvt(rep(-c, k), rep(c, k), df = df, corr = r, algorithm = GenzBretz(maxpts = 2e7, abseps = abseps, releps = 0))
  c(value = as.numeric(p), error = attr(p, "error"))
}

bracket <- function(level, df, k) qt(1 - (1 - level) / 2 / c(1, k), df) + c(-1e-6, 1e-6)

refined <- function(c, r, df, level, slope) {
  p <- simulated(c, r, df, target * slope)
  list(critical = c + (level - p[["value"]]) / slope, error = p[["error"]] / slope)
}

by_quadrature <- function(lambda, df, level) {
  r <- product_matrix(lambda)
  c <- uniroot(function(x) product_probability(x, lambda, df) - level, bracket(level, df, length(lambda)),
               tol = 1e-11)$root
  slope <- (product_probability(c * 1.001, lambda, df) - product_probability(c * 0.999, lambda, df)) / (0.002 * c)
  finer <- product_probability(c, lambda, df, points = 900)
  stopifnot(abs(finer - level) / slope < 1e-7)
  c(list(df = df, level = level), refined(c, r, df, level, slope), list(quadrature = c))
}

by_search <- function(r, df, level) {
  c <- uniroot(function(x) simulated(x, r, df, 2e-5)[["value"]] - level, bracket(level, df, nrow(r)), tol = 1e-4)$root
  slope <- (simulated(c * 1.02, r, df, 2e-5)[["value"]] - simulated(c * 0.98, r, df, 2e-5)[["value"]]) / (0.04 * c)
  c(list(df = df, level = level), refined(c, r, df, level, slope))
}

several <- function(solve, shape, dfs) {
  grid <- expand.grid(level = levels, df = dfs)
  rows <- Map(function(df, level) solve(shape, df, level), grid$df, grid$level)
  cat(sprintf("  largest error %.1e\n", max(sapply(rows, `[[`, "error"))))
  rows
}

mixed <- c(0.95, -0.5, 0.1, 0.7, 0.3, -0.8, 0.5, 0.05)
families <- list()
for (k in 2:8) for (kind in c("equal", "mixed")) {
  lambda <- if (kind == "equal") rep(sqrt(0.5), k) else mixed[seq_len(k)]
  cat(kind, k)
  families[[length(families) + 1]] <- list(name = paste(kind, k), form = "product", lambda = I(lambda),
                                           correlation = product_matrix(lambda),
                                           values = several(by_quadrature, lambda, dfs))
}

days <- fromJSON(file.path(dirname(script_path()), "reml_days.json"), simplifyVector = FALSE)$days
of_day <- function(name) {
  r <- Filter(function(d) d$name == name, days)[[1]]$correlation
  r <- do.call(rbind, lapply(r, unlist))
  (r + t(r)) / 2
}
set.seed(11)
wishart <- cov2cor(crossprod(matrix(rnorm(12 * 6), 12)))
others <- list("three oils" = of_day("three oils"), "oil and four trims" = of_day("oil and four trims"),
               "neighbours 0.7" = 0.7^abs(outer(1:4, 1:4, `-`)), "any six" = round(wishart, 6))
for (name in names(others)) {
  cat(name)
  families[[length(families) + 1]] <- list(name = name, form = "any", correlation = others[[name]],
                                           values = several(by_search, others[[name]], c(3, 8, 20, 100)))
}

largest <- max(sapply(families, function(f) max(sapply(f$values, `[[`, "error"))))
product <- Filter(function(f) f$form == "product", families)
apart <- max(sapply(product, function(f) max(sapply(f$values, function(v) abs(v$critical - v$quadrature)))))
stopifnot(largest < 1e-4, apart < 1e-4)
write_reference(list(
  about = paste("Two-sided equicoordinate critical values of the multivariate t: mvtnorm::pmvt inverted (`critical`,",
                "error bound `error`), and for rho_ij = lambda_i lambda_j also by quadrature (`quadrature`, to 1e-7).",
                "The matrices named after a day are the correlations of that day in reml_days.json."),
  largest_error = largest,
  largest_gap_to_quadrature = apart,
  families = families
), c("mvtnorm", "jsonlite"))
