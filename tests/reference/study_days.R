# Invented days judged with a noise study in the likelihood. Writes study_days.json.
#
# A study's SD s on nu degrees of freedom is exactly nu further error contrasts N(0, theta) of mean square s^2. So nu
# pseudo-readings of size s, with no fixed effects, are stacked below the day's own: bounded REML on the stack (tools.R), then
# pbkrtest's Kenward-Roger formulae on the stack. Where df are not whole, and as a check everywhere, the same likelihood and
# formulae are written out with the study's terms added (penalised REML; information + nu/(2 theta^2)).
here <- dirname(normalizePath(sub("^--file=", "", grep("^--file=", commandArgs(FALSE), value = TRUE)[1])))
source(file.path(here, "tools.R"))
source(file.path(here, "fit_day.R"))
source(file.path(here, "invented.R"))

wander_minutes <- 60

components <- function(day) {
  columns <- day$columns
  g <- list()
  if (length(day$grouping))
    g$install <- Reduce(`+`, lapply(day$grouping, function(name) tcrossprod(indicator(columns[[name]]))))
  if (!is.null(day$study$wander_sd)) {
    g$wander <- exp(-abs(outer(columns$minute, columns$minute, `-`)) / wander_minutes)
    if (!is.null(columns$day)) g$wander <- g$wander * outer(columns$day, columns$day, `==`)
  }
  g$pull <- diag(length(columns$y))
  g
}

study_of <- function(day, names) {
  pick <- function(what) unname(sapply(names, function(n) {
    value <- day$study[[paste(n, what, sep = "_")]]
    if (is.null(value)) 0 else value
  }))
  list(df = pick("df"), sd = pick("sd"))
}

# y, X and each G with the pseudo-readings below.
stack <- function(y, x, g, study) {
  extra <- rep(seq_along(g), study$df)
  stacked <- Map(function(a, k) {
    big <- matrix(0, nrow(a) + length(extra), nrow(a) + length(extra))
    big[seq_len(nrow(a)), seq_len(nrow(a))] <- a
    diag(big)[nrow(a) + which(extra == k)] <- 1
    big
  }, g, seq_along(g))
  list(y = c(y, study$sd[extra]), x = rbind(x, matrix(0, length(extra), ncol(x))), g = unname(stacked))
}

# Bounded maximum of the REML log-likelihood plus the study's, by Newton from a grid of starts.
penalised_optimum <- function(y, x, g, study) {
  k <- error_contrasts(x)
  w <- drop(crossprod(k, qr.resid(qr(x), y)))
  gk <- lapply(g, function(a) crossprod(k, a %*% k))
  parts <- function(free) function(theta) {
    nu <- study$df[free]
    s2 <- study$sd[free]^2
    found <- reml_parts(theta, w, gk[free])
    found$value <- found$value + sum(-nu / 2 * log(theta) - nu * s2 / (2 * theta))
    found$gradient <- found$gradient - nu / (2 * theta) + nu * s2 / (2 * theta^2)
    found$hessian <- found$hessian + diag(nu / (2 * theta^2) - nu * s2 / theta^3, length(theta))
    found
  }
  count <- length(g)
  best <- list(value = -Inf)
  for (zeros in 0:(2^(count - 1) - 1)) {
    free <- c(bitwAnd(zeros, 2^(seq_len(count - 1) - 1)) == 0, TRUE)[seq_len(count)]
    if (any(!free & study$df > 0)) next
    starts <- as.matrix(expand.grid(rep(list(c(0.02, 0.3, 2, 20)), sum(free) - 1)))
    if (sum(free) == 1) starts <- matrix(0, 1, 0)
    for (s in seq_len(nrow(starts))) {
      theta <- numeric(count)
      found <- newton(sum(w^2) / length(w) * c(starts[s, ], 1), parts(free))
      if (is.null(found)) next
      theta[free] <- found
      value <- parts(free)(found)$value
      if (value > best$value + 1e-11) best <- list(value = value, theta = theta)
    }
  }
  best$theta
}

by_formula <- function(y, x, g, study, contrasts) {
  theta <- penalised_optimum(y, x, g, study)
  vi <- solve(Reduce(`+`, Map(`*`, theta, g)))
  beta <- drop(solve(t(x) %*% vi %*% x, t(x) %*% vi %*% y))
  rows <- lapply(seq_len(nrow(contrasts)), function(i) {
    found <- kenward_roger_by_hand(x, g, theta, contrasts[i, ], study$df)
    gain <- sum(contrasts[i, ] * beta)
    half <- qt(0.975, found$df) * found$se
    list(gain = gain, se = found$se, df = found$df, low = gain - half, high = gain + half,
         p = 2 * pt(-abs(gain / found$se), found$df))
  })
  list(theta = theta, rows = rows, correlation = NULL)
}

by_stacking <- function(y, x, g, study, contrasts) {
  all <- stack(y, x, g, study)
  theta <- reml_optimum(all$y, all$x, all$g, positive = study$df > 0 | names(g) == "pull")$theta
  c(list(theta = theta), kenward_roger(all$y, all$x, all$g, theta, contrasts))
}

fit_study_day <- function(day) {
  x <- fixed_columns(day)
  y <- day$columns$y
  g <- components(day)
  study <- study_of(day, names(g))
  contrasts <- diag(ncol(x))[1 + seq_along(day$changes), , drop = FALSE]
  formula <- by_formula(y, x, g, study, contrasts)
  # pbkrtest needs two components or more
  whole <- length(g) > 1 && all(study$df == round(study$df))
  result <- if (whole) by_stacking(y, x, g, study, contrasts) else formula
  apart <- max(sapply(c("gain", "se", "df"), function(key)
    relative(sapply(result$rows, `[[`, key), sapply(formula$rows, `[[`, key))))
  cat(sprintf("%-44s %3d pulls  apart %.1e  %s  df %s\n", day$name, length(y), apart,
              paste(sprintf("%s %.4g", names(g), result$theta), collapse = "  "),
              paste(sprintf("%.2f", sapply(result$rows, `[[`, "df")), collapse = " ")))
  stopifnot(apart < 1e-9)
  list(
    name = day$name, about = day$about, columns = lapply(day$columns, I), value = "y", baseline = day$baseline,
    changes = day$changes, grouping = I(day$grouping), drift = day$drift, days = day$days, pulls = length(y),
    study = day$study, gains = Map(function(ch, row) c(ch, row), day$changes, result$rows),
    correlation = result$correlation, variances = as.list(setNames(result$theta, names(g))),
    via = if (whole) "stacked, pbkrtest formulae" else "penalised REML, formulae written out",
    stacked_against_written_out = if (whole) apart
  )
}

# --- the invented days ------------------------------------------------------------------------------------------------

days <- list()
add <- function(..., study) {
  day <- make_day(...)
  day$study <- study
  days[[length(days) + 1]] <<- day
}
usual <- list(pull_sd = 0.5, pull_df = 12, install_sd = 0.4, install_df = 5)

set.seed(501)
columns <- oil_day(c(B, C), rep(4, 6))
add("both studied", "One oil, six fittings; pull SD and install SD from a study.", columns,
    readings(columns, 205, list("oil=0W-20" = 1.2), steady(-0.12), list(install = 0.4), 0.5),
    "oil=0W-20", "install", study = usual)

columns <- oil_day(c(B, C), c(2, 5, 1, 4, 3, 5, 2))
y <- readings(columns, 205, list("oil=0W-20" = 0.8), steady(-0.2), list(install = 0.5), 0.5)
add("unbalanced", "Unequal numbers of pulls.", columns, y, "oil=0W-20", "install", study = usual)
add("unbalanced, df not whole", "The same with a study of 7.6 and 3.4 df.", columns, y, "oil=0W-20", "install",
    study = list(pull_sd = 0.52, pull_df = 7.6, install_sd = 0.35, install_df = 3.4))
add("unbalanced, install SD studied only", "The pull SD comes from the day.", columns, y, "oil=0W-20", "install",
    study = list(install_sd = 0.4, install_df = 6))
add("unbalanced, pull SD studied only", "The install SD comes from the day (bounded at 0).", columns, y, "oil=0W-20",
    "install", study = list(pull_sd = 0.5, pull_df = 15))
add("unbalanced, study far too small", "The study's SDs are a third of what the day shows.", columns, y, "oil=0W-20",
    "install", study = list(pull_sd = 0.15, pull_df = 8, install_sd = 0.12, install_df = 4))

columns <- oil_day(c(B, C, B), c(4, 4, 4))
add("there and back", "Three fittings and linear drift: nothing is left between fittings, the study tells all.", columns,
    readings(columns, 205, list("oil=0W-20" = 1.8), steady(-0.1), list(install = 0.4), 0.5),
    "oil=0W-20", "install", study = usual)

columns <- lay_out(list(oil = rep(c(B, C), each = 3, times = 2), vacuum = c("off", "on", "off")), rep(2, 12),
                   changeover = c(25, 2, 2))
columns$install <- fittings(columns$oil, columns$stint)
columns$stint <- NULL
y <- readings(columns, 205, list("oil=0W-20" = 1.5, "vacuum=on" = 1.9), steady(-0.12), list(install = 0.4), 0.55)
add("refitted and quick", "One refitted part, one quick change inside every fitting.", columns, y,
    c("oil=0W-20", "vacuum=on"), "install", study = usual)
add("refitted and quick, with wander", "The same with a wander SD from the study.", columns, y,
    c("oil=0W-20", "vacuum=on"), "install",
    study = c(usual, list(wander_sd = 0.3, wander_df = 4)))
add("refitted and quick, wander and no polynomial", "Drift taken as wander alone.", columns, y,
    c("oil=0W-20", "vacuum=on"), "install", drift = "none",
    study = c(usual, list(wander_sd = 0.3, wander_df = 4)))

columns <- two_parts(c(B, C, B, B, C, B), c("stock", "stock", "stock", "long", "long", "stock"), c(3, 2, 3, 2, 3, 3))
add("two refitted parts", "Fittings of each part's own, one install variance.", columns,
    readings(columns, 205, list("oil=0W-20" = 1.1, "headers=long" = 2.4), steady(-0.1),
             list(oil_fitting = 0.4, headers_fitting = 0.4), 0.5),
    c("oil=0W-20", "headers=long"), c("oil_fitting", "headers_fitting"), study = usual)

columns <- several_days(function(i) oil_day(if (i %% 2) c(B, C, B) else c(C, B, C), c(3, 3, 2)), 2)
columns$install <- as.integer(factor(paste(columns$day, columns$install), unique(paste(columns$day, columns$install))))
y <- readings(columns, 204, list("oil=0W-20" = 1.0, "day=day 2" = 0.7), steady(-0.15), list(install = 0.4), 0.5)
add("two days", "Two days with a level each.", columns, y, "oil=0W-20", "install", days = "fixed", study = usual)
add("two days, with wander", "Wander of its own on each day.", columns, y, "oil=0W-20", "install", days = "fixed",
    study = c(usual, list(wander_sd = 0.25, wander_df = 4)))

columns <- oil_day(c(B, C), rep(1, 8))
add("one pull a fitting", "Pull and install scatter can't be told apart on the day; the study does.", columns,
    readings(columns, 205, list("oil=0W-20" = 1.4), steady(-0.1), list(install = 0.4), 0.5),
    "oil=0W-20", "install", study = usual)

columns <- oil_day(c(B, C), rep(3, 7))
add("quadratic drift", "Drift that slows down.", columns,
    readings(columns, 205, list("oil=0W-20" = 1.0), function(h) -0.8 * h + 0.1 * h^2, list(install = 0.4), 0.5),
    "oil=0W-20", "install", drift = "quadratic", study = usual)

columns <- list(minute = 15 + 4 * (1:16), vacuum = rep_len(c("off", "on", "on", "off"), 16))
add("one variance", "Quick changes only: the pooled t on n - p + nu df.", columns,
    readings(columns, 205, list("vacuum=on" = 0.9), steady(-0.1), list(), 0.5),
    "vacuum=on", character(0), study = list(pull_sd = 0.5, pull_df = 9))

results <- lapply(days, fit_study_day)

# The pooled t by lm: s^2 = (RSS + nu s0^2)/(df + nu) on df + nu degrees of freedom.
last <- days[[length(days)]]
fit <- lm(last$columns$y ~ 0 + fixed_columns(last))
pooled_df <- fit$df.residual + last$study$pull_df
pooled <- (deviance(fit) + last$study$pull_df * last$study$pull_sd^2) / pooled_df
by_lm <- c(coef(fit)[2], sqrt(vcov(fit)[2, 2] / sigma(fit)^2 * pooled), pooled_df)
stopifnot(relative(unlist(results[[length(results)]]$gains[[1]][c("gain", "se", "df")]), by_lm) < 1e-10)

write_reference(list(
  about = "Invented days of testing (no real engine, part or cell), judged with a noise study in the likelihood.",
  how = paste(
    "Maximises l_REML(theta) + sum_k [-nu_k/2 log theta_k - nu_k s_k^2/(2 theta_k)], by stacking nu_k pseudo-readings of",
    "size s_k; Kenward-Roger by pbkrtest:::vcovAdj_internal and Lb_ddf on the stack. G of install: the sum of Z Z' of the",
    "grouping columns; of wander: exp(-|minutes apart|/60) within a day; of pull: the identity. minute counts from each",
    "day's own start; fixed columns as in reml_days.json. stacked_against_written_out: largest relative difference of",
    "gain, SE and df between the stack and the formulae with nu/(2 theta^2) added to the information."),
  days = results
), c("pbkrtest", "lme4", "Matrix", "jsonlite"))
