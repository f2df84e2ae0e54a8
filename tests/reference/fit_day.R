# One day fitted by lme4 (REML at a polished optimum) and pbkrtest (Kenward-Roger), with every figure reached by a second
# route. A day is a list: name, about, columns (y first), changes (factor, level), baseline, grouping (columns with a random
# intercept each), common_variance (one variance for all of them), drift, days (none, fixed, random). Needs tools.R.

drift_columns <- function(minute, drift) {
  if (drift == "none") return(NULL)
  hours <- (minute - mean(minute)) / 60
  switch(drift, linear = cbind(hours = hours), quadratic = cbind(hours = hours, hours2 = hours^2))
}

# Fixed effects: intercept, one column a change (1 where it is on), drift, and all days but the first when fixed.
fixed_columns <- function(day) {
  changes <- sapply(day$changes, function(ch) as.numeric(day$columns[[ch$factor]] == ch$level))
  colnames(changes) <- paste0("change", seq_along(day$changes))
  x <- cbind(baseline = 1, changes, drift_columns(day$columns$minute, day$drift))
  if (day$days == "fixed") {
    days <- indicator(day$columns$day)[, -1, drop = FALSE]
    colnames(days) <- paste0("day", seq_len(ncol(days)) + 1)
    x <- cbind(x, days)
  }
  x
}

# lme4's model at the given variance ratios, in lme4's own order of terms.
lmer_at <- function(day, x, variances) {
  table <- data.frame(lapply(day$columns[names(variances)], factor), check.names = FALSE)
  names(table) <- names(variances)
  table$y <- day$columns$y
  table$X <- x
  formula <- as.formula(paste("y ~ 0 + X +", paste0("(1 | ", names(variances), ")", collapse = " + ")))
  parts <- lFormula(formula, table, REML = TRUE)
  deviance <- do.call(mkLmerDevfun, parts)
  order <- names(parts$reTrms$cnms)
  theta <- sqrt(unlist(variances[order]) / day$residual)
  value <- deviance(theta)
  model <- mkMerMod(environment(deviance), list(par = theta, fval = value, conv = 0), parts$reTrms, parts$fr)
  default <- suppressMessages(suppressWarnings(lmer(formula, table)))
  list(model = model, default_gap = as.numeric(REMLcrit(default) - REMLcrit(model)))
}

# One variance for several groupings has no formula in lme4; nlme has one, stopped tightly, to compare the optimum with.
nlme_loglik <- function(day, x) {
  table <- data.frame(y = day$columns$y, all = 1)
  table$X <- x
  table$Z <- do.call(cbind, lapply(day$grouping, function(name) indicator(day$columns[[name]])))
  fit <- nlme::lme(y ~ 0 + X, table, list(all = nlme::pdIdent(~ 0 + Z)), method = "REML",
                   control = nlme::lmeControl(tolerance = 1e-12, msTol = 1e-14))
  as.numeric(logLik(fit))
}

# The baseline at the mean minute, and gains in percent of it: r = gain/b by the delta method, inference on gain - r b.
in_percent <- function(y, x, g, theta, contrasts) {
  b <- colMeans(x)
  b[grepl("^change", colnames(x))] <- 0
  level <- kenward_roger(y, x, g, theta, rbind(b))$rows[[1]]
  gains <- sapply(kenward_roger(y, x, g, theta, contrasts)$rows, `[[`, "gain")
  ratios <- gains / level$gain
  found <- kenward_roger(y, x, g, theta, contrasts - outer(ratios, b))
  rows <- Map(function(r, row) {
    se <- 100 * row$se / abs(level$gain)
    half <- qt(0.975, row$df) * se
    list(gain = 100 * r, se = se, df = row$df, low = 100 * r - half, high = 100 * r + half)
  }, unname(ratios), found$rows)
  list(baseline_mean = level$gain, baseline_se = level$se, gains = rows, correlation = found$correlation)
}

fit_day <- function(day) {
  x <- fixed_columns(day)
  stopifnot(qr(x)$rank == ncol(x))
  y <- day$columns$y
  z <- lapply(day$grouping, function(name) tcrossprod(indicator(day$columns[[name]])))
  if (day$common_variance) z <- list(Reduce(`+`, z))
  g <- c(z, list(diag(length(y))))
  best <- reml_optimum(y, x, g)
  contrasts <- diag(ncol(x))[1 + seq_along(day$changes), , drop = FALSE]
  direct <- kenward_roger(y, x, g, best$theta, contrasts)
  hand <- lapply(seq_along(day$changes), function(i) kenward_roger_by_hand(x, g, best$theta, contrasts[i, ]))
  result <- direct
  checks <- list(scaled_gradient = best$gradient, last_newton_step = best$newton_step,
                 hand_se = relative(sapply(hand, `[[`, "se"), sapply(direct$rows, `[[`, "se")),
                 hand_df = relative(sapply(hand, `[[`, "df"), sapply(direct$rows, `[[`, "df")))
  names(best$theta) <- c(if (day$common_variance) "fittings" else day$grouping, "residual")
  loglik <- best$value - 0.5 * as.numeric(determinant(crossprod(x))$modulus)
  if (!day$common_variance) {
    day$residual <- best$theta[["residual"]]
    rebuilt <- lmer_at(day, x, as.list(best$theta[-length(best$theta)]))
    phi <- vcov(rebuilt$model)
    result <- read_contrasts(fixef(rebuilt$model), phi, vcovAdj(rebuilt$model), contrasts)
    for (key in c("gain", "se", "df"))
      checks[[paste0("lme4_", key)]] <- relative(sapply(result$rows, `[[`, key), sapply(direct$rows, `[[`, key))
    checks$lme4_residual <- relative(sigma(rebuilt$model)^2, day$residual)
    checks$lme4_loglik <- abs(as.numeric(logLik(rebuilt$model)) - loglik)
    stopifnot(rebuilt$default_gap > -1e-9, rebuilt$default_gap < 1e-4)
  }
  if (day$common_variance) {
    checks$nlme_loglik <- abs(nlme_loglik(day, x) - loglik)
    stopifnot(checks$nlme_loglik < 1e-6)
  }
  reached <- max(unlist(checks[setdiff(names(checks), c("lme4_loglik", "nlme_loglik"))]))
  cat(sprintf("%-32s %3d pulls  reached %.1e  %s\n", day$name, length(y), reached,
              paste(sprintf("%s %.4g", names(best$theta), best$theta), collapse = "  ")))
  stopifnot(reached < 1e-8)
  list(
    name = day$name, about = day$about, columns = lapply(day$columns, I), value = "y",
    baseline = day$baseline, changes = day$changes, grouping = I(day$grouping),
    common_variance = day$common_variance, drift = day$drift, days = day$days, pulls = length(y),
    fixed_columns = I(colnames(x)),
    gains = Map(function(ch, row) c(ch, row), day$changes, result$rows),
    correlation = result$correlation,
    percent = if (day$drift != "quadratic") in_percent(y, x, g, best$theta, contrasts),
    variances = as.list(best$theta), loglik = loglik, boundary = any(best$theta == 0),
    via = if (day$common_variance) "own REML, pbkrtest formulae" else "lme4 model, pbkrtest",
    relative_error_reached = reached, checks = checks
  )
}
