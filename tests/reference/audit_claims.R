# Twelve published tests as they are printed, invented, with answers worked out in R alone: scatter from single pulls,
# the usual scatters, drift from step to step, headlines. Chances by integrate(), order statistics too.
# Rscript tests/reference/audit_claims.R
source(file.path(dirname(sub("^--file=", "", grep("^--file=", commandArgs(FALSE), value = TRUE)[1])), "tools.R"))

usual <- c(0.0025, 0.005, 0.01)  # pull SD by reading; common practice, no published source
drifts <- c(0, 0.0025, 0.005)
refit_ratio <- 0.6

# A step: value (one number, or the single pulls), the pulls behind it, what is shown, whether parts were fitted.
step <- function(name, value, pulls = NA, shown = "mean", refit = FALSE, changed = NULL, more = "", digits = 1) {
  list(name = name, value = value, pulls = pulls, shown = shown, refit = refit, changed = changed, more = more,
       digits = digits)
}

toml_step <- function(s) {
  number <- function(x) formatC(x, format = "f", digits = s$digits)
  value <- if (length(s$value) > 1) paste0("[", paste(number(s$value), collapse = ", "), "]") else number(s$value)
  lines <- c("[[step]]", sprintf('name = "%s"', s$name), paste("value =", value))
  if (!is.na(s$pulls)) lines <- c(lines, paste("pulls =", s$pulls), sprintf('shown = "%s"', s$shown))
  if (!is.null(s$changed)) lines <- c(lines, sprintf('changed = ["%s"]', s$changed))
  if (s$refit) lines <- c(lines, "refit = true")
  if (nzchar(s$more)) lines <- c(lines, s$more)
  paste(lines, collapse = "\n")
}

best_of <- function(n) {
  density <- function(x) n * dnorm(x) * pnorm(x)^(n - 1)
  m <- integrate(function(x) x * density(x), -Inf, Inf, rel.tol = 1e-11)$value
  c(m, integrate(function(x) (x - m)^2 * density(x), -Inf, Inf, rel.tol = 1e-11)$value)
}

chance <- function(gain, se, df, typical, nothing, sign) {
  like <- function(theta) if (is.finite(df)) dt((gain - theta) / se, df) else dnorm((gain - theta) / se)
  f <- function(theta) dnorm(theta, 0, typical) * like(theta)
  cuts <- sort(unique(c(0, gain + se * c(-30, -8, -3, -1, 0, 1, 3, 8, 30), typical * c(-8, -3, -1, 1, 3, 8))))
  part <- function(lo, hi) integrate(f, lo, hi, rel.tol = 1e-10, subdivisions = 1000L)$value
  pieces <- mapply(part, head(cuts, -1), tail(cuts, -1))
  right <- head(cuts, -1) >= 0
  side <- if (sign > 0) sum(pieces[right]) else sum(pieces[!right])
  (1 - nothing) * side / ((1 - nothing) * sum(pieces) + nothing * like(0))
}

word <- function(low, high, low90, high90, smallest) {
  if (!is.na(smallest) && low90 > -smallest && high90 < smallest) return("no difference that matters")
  if (low > 0) "real gain" else if (high < 0) "real loss" else "not settled"
}

answers <- function(steps, from, to, noise, smallest, contradicts, no_return, sign) {
  k <- length(steps)
  w <- numeric(k)
  w[to] <- 1 / length(to)
  w[from] <- w[from] - 1 / length(from)
  mean_of <- sapply(steps, function(s) mean(s$value))
  n <- sapply(steps, function(s) if (length(s$value) > 1) length(s$value) else if (is.na(s$pulls)) 1 else s$pulls)
  shown <- sapply(steps, function(s) if (length(s$value) > 1) "mean" else s$shown)
  picked <- mapply(function(how, n) if (how == "best") best_of(n) else c(0, if (how == "mean") 1 / n else 1), shown, n)
  install <- cumsum(c(FALSE, sapply(steps[-1], function(s) s$refit)))
  gain <- sum(w * mean_of)
  base <- mean(mean_of[from])
  bias1 <- sum(w * picked[1, ])
  pull1 <- sum(w^2 * picked[2, ])
  install1 <- sum(tapply(w, install, sum)^2)
  drift1 <- sum(cumsum(w)[-k]^2)
  if (install1 < 1e-12) install1 <- 0

  singles <- Filter(function(s) length(s$value) > 1, steps)
  sd <- noise$pull_sd
  df <- noise$pull_df
  if (length(singles) > 0) {
    squares <- sum(sapply(singles, function(s) sum((s$value - mean(s$value))^2)))
    own_df <- sum(sapply(singles, function(s) length(s$value) - 1))
    rounding <- max(sapply(singles, function(s) 10^-s$digits)) / sqrt(12)
    own <- max(sqrt(squares / own_df), rounding)
    if (!is.null(sd) && !is.null(df)) {
      sd <- sqrt((sd^2 * df + own^2 * own_df) / (df + own_df))
      df <- df + own_df
    } else {
      sd <- own
      df <- own_df
    }
  }
  known <- !is.null(sd)
  at <- function(pull, pull_df, fit, wander) {
    parts <- c(pull1 * pull^2, install1 * fit^2, drift1 * wander^2)
    v <- sum(parts)
    nu <- if (is.null(pull_df)) Inf else v^2 / (parts[1]^2 / pull_df)
    g <- gain - bias1 * pull
    half <- sqrt(v) * qt(c(0.975, 0.95), nu)
    list(gain = gain, gain_adjusted = g, se = sqrt(v), df = if (is.finite(nu)) nu else NULL, low = g - half[1],
         high = g + half[1], verdict = word(g - half[1], g + half[1], g - half[2], g + half[2], smallest), nu = nu)
  }
  wander <- if (is.null(noise$drift_sd)) 0 else noise$drift_sd
  fit <- function(pull) if (is.null(noise$install_sd)) (if (known) 0 else refit_ratio * pull) else noise$install_sd
  pull <- if (known) sd else 0.005 * base
  main <- at(pull, df, fit(pull), wander)
  if (known) {
    words <- main$verdict
    if (is.null(noise$install_sd) && install1 > 0) words <- c(words, at(pull, df, refit_ratio * pull, wander)$verdict)
  } else {
    words <- sapply(usual * base, function(p) at(p, NULL, fit(p), wander)$verdict)
    main$verdict <- if (length(unique(words)) == 1 && words[1] %in% c("real gain", "real loss")) words[1] else "not settled"
  }
  real <- function(one) chance(one$gain_adjusted, one$se, one$nu, 0.01 * base, 0.5, sign)
  over <- sapply(drifts * base, function(d) real(at(pull, df, fit(pull), d)))
  kinds <- unique(words)
  headline <- if (contradicts) "its figures contradict each other"
    else if (identical(kinds, "not settled")) "within noise"
    else if (identical(kinds, "no difference that matters")) "no difference that matters"
    else if (length(kinds) > 1) "depends on the scatter"
    else if (no_return) "more than pull-to-pull scatter; part or drift, the test can't tell"
    else if (known) "more than its noise" else "more than noise at every usual scatter"
  nu <- main$nu
  main$nu <- NULL
  c(main, list(probability_real = real(c(main, nu = nu)), probability_with_drift_min = min(over),
               probability_with_drift_max = max(over), headline = headline, pull_sd = pull))
}

case <- function(id, about, steps, from, to, noise = list(), smallest = NA, contradicts = FALSE, no_return = FALSE,
                 test = "") {
  names <- sapply(steps, function(s) s$name)
  quoted <- function(places) paste0("[", paste0('"', names[places], '"', collapse = ", "), "]")
  table <- if (length(noise)) c("[noise]", sprintf("%s = %s", names(noise), unlist(noise))) else NULL
  claim <- c("[[claim]]", 'name = "the part"', 'about = ["part"]', paste("from =", quoted(from)), paste("to =", quoted(to)))
  if (!is.na(smallest)) claim <- c(claim, paste("smallest_gain =", format(smallest, nsmall = 1)))
  toml <- paste(c("[test]", sprintf('title = "%s (invented)"', about), 'paid_by = "nobody"', 'correction = "SAE J1349"',
                  'temperatures = "held"', 'unit = "hp"', test, table, sapply(steps, toml_step), claim), collapse = "\n")
  found <- answers(steps, from, to, noise, smallest, contradicts, no_return, 1)
  list(id = id, about = about, claims_toml = toml, answers = found)
}

back <- function(a, b, c, ...) list(step("before", a, ...), step("with", b, refit = TRUE, changed = "part", ...),
                                    step("after", c, refit = TRUE, changed = "part", more = 'back_to = "before"', ...))
there <- function(a, b, ...) list(step("before", a, ...), step("with", b, changed = "part", ...))

cases <- list(
  case("singles", "Three pulls a side, printed one by one",
       there(c(512.4, 510.1, 511.7), c(516.2, 514.9, 517.3)), 1, 2, no_return = TRUE),
  case("singles-and-noise", "Single pulls pooled with a stated scatter",
       back(c(401.2, 402.4), c(405.0, 406.1), c(401.9, 400.8)), c(1, 3), 2, list(pull_sd = 0.9, pull_df = 12, install_sd = 0.4)),
  case("singles-over-a-guess", "Single pulls before a scatter that is only assumed",
       back(c(401.2, 402.4, 401.1), c(403.0, 404.1, 402.2), c(401.9, 400.8, 402.0)), c(1, 3), 2, list(pull_sd = 3.0, install_sd = 0.5)),
  case("large", "A gain that no usual scatter explains, scatter not stated", back(450.0, 471.0, 451.0, pulls = 3), c(1, 3), 2),
  case("small", "A gain within every usual scatter", back(450.0, 451.0, 450.4, pulls = 2), c(1, 3), 2),
  case("between", "A gain that stands at some usual scatters", back(450.0, 456.2, 450.4, pulls = 3), c(1, 3), 2),
  case("one-way", "Oils in test order, never back",
       list(step("first", 401, digits = 0, pulls = 3), step("second", 404, digits = 0, pulls = 3, changed = "other"),
            step("third", 409, digits = 0, pulls = 3, changed = "part")), 2, 3,
       list(pull_sd = 1.0, pull_df = 20), no_return = TRUE),
  case("contradiction", "Torque that makes another power",
       list(step("before", 300.0, pulls = 3, more = "at_rpm = 6000\ntorque = 300"),
            step("with", 330.0, pulls = 3, changed = "part", more = "at_rpm = 6000\ntorque = 300"),
            step("after", 300.0, pulls = 3, changed = "part", more = 'back_to = "before"')), c(1, 3), 2, contradicts = TRUE),
  case("alike", "Single pulls that are printed alike: the rounding remains",
       back(c(401, 401), c(403, 403), c(401, 401), digits = 0), c(1, 3), 2, list(install_sd = 0.2)),
  case("best-beside-singles", "The best of four against single pulls",
       list(step("before", c(401.2, 402.4, 401.5)), step("with", 405.4, pulls = 4, shown = "best", changed = "part"),
            step("after", c(401.0, 401.8), changed = "part", more = 'back_to = "before"')), c(1, 3), 2),
  case("refit-unknown", "A scatter that is known, and re-fitting of which nothing is said",
       back(401.2, 403.2, 401.4, pulls = 3), c(1, 3), 2, list(pull_sd = 1.1, pull_df = 30)),
  case("matters-not", "A switch that makes no difference that matters",
       list(step("before", 401.2, pulls = 4), step("with", 401.5, pulls = 4, changed = "part"),
            step("after", 401.0, pulls = 4, changed = "part", more = 'back_to = "before"')), c(1, 3), 2,
       list(pull_sd = 0.6, pull_df = 15, drift_sd = 0.1), smallest = 2)
)

write_reference(list(cases = cases), c("Matrix", "lme4", "pbkrtest", "jsonlite"))
