# Repeatability and refitting scatter of published sets and of invented noise studies. Writes noise_sets.json.
here <- dirname(normalizePath(sub("^--file=", "", grep("^--file=", commandArgs(FALSE), value = TRUE)[1])))
source(file.path(here, "tools.R"))
source(file.path(here, "fit_day.R"))
source(file.path(here, "invented.R"))

# --- analysis of variance ---------------------------------------------------------------------------------------------

# SSW = RSS[X, Z] on n - rank[X, Z], SSB = RSS[X] - RSS[X, Z], m = tr(Z' M_X Z)/nu_B (the pulls per install when balanced).
anova_parts <- function(y, x, group) {
  z <- indicator(group)
  outer_fit <- lm.fit(x, y)
  inner_fit <- lm.fit(cbind(x, z), y)
  rss <- function(fit) sum(fit$residuals^2)
  nu_between <- inner_fit$rank - outer_fit$rank
  nu_within <- length(y) - inner_fit$rank
  m <- sum(qr.resid(qr(x), z)^2) / nu_between
  list(ss_between = rss(outer_fit) - rss(inner_fit), df_between = nu_between, ss_within = rss(inner_fit),
       df_within = nu_within, m = m)
}

sd_interval <- function(ms, df, level = 0.95) {
  sqrt(df * ms / qchisq(c(1 + level, 1 - level) / 2, df))
}

# Generalised interval of the install variance: quantiles of (SSB/chi2_B - SSW/chi2_W)/m (Weerahandi 1993), by integration.
generalised_interval <- function(a, level = 0.95) {
  below <- function(limit) {
    integrate(function(p) {
      within <- a$ss_within / qchisq(p, a$df_within)
      pchisq(a$ss_between / pmax(a$m * limit + within, 1e-300), a$df_between, lower.tail = FALSE)
    }, 0, 1, rel.tol = 1e-10, subdivisions = 2000)$value
  }
  scale <- a$ss_between / a$df_between / a$m
  sapply(c(1 - level, 1 + level) / 2, function(target) {
    if (below(0) >= target) return(0)
    sqrt(uniroot(function(v) below(v) - target, c(0, 1e6 * scale), tol = 1e-12 * scale)$root)
  })
}

# ANOVA and REML components of one grouping, with intervals; the study rule is what a noise study writes into a day.
one_way <- function(y, group, x = matrix(1, length(y), 1)) {
  a <- anova_parts(y, x, group)
  ms_between <- a$ss_between / a$df_between
  ms_within <- a$ss_within / a$df_within
  component <- (ms_between - ms_within) / a$m
  pull_sd <- sqrt(ms_within)
  reml <- reml_optimum(y, x, list(tcrossprod(indicator(group)), diag(length(y))))
  excess <- max(ms_between - ms_within, 0)
  satterthwaite <- excess^2 / (ms_between^2 / a$df_between + ms_within^2 / a$df_within)
  f <- ms_between / ms_within
  c(list(n = length(y), groups = length(unique(group)), mean = mean(y)), a, list(
    ms_between = ms_between, ms_within = ms_within, F = f,
    p = pf(f, a$df_between, a$df_within, lower.tail = FALSE),
    pull_sd = pull_sd, pull_df = a$df_within, pull_sd_interval = sd_interval(ms_within, a$df_within),
    repeatability_limit = qnorm(0.975) * sqrt(2) * pull_sd,
    install_variance_anova = component,
    install_df_satterthwaite = satterthwaite,
    # below 1 df the interval is without meaning
    install_sd_interval_satterthwaite = if (satterthwaite >= 1) sd_interval(component, satterthwaite),
    install_sd_interval_generalised = generalised_interval(a),
    install_study_sd = sqrt(max(component, (0.3 * pull_sd)^2)),
    install_study_df = min(max(satterthwaite, 1), a$df_between),
    reml = list(install_sd = sqrt(reml$theta[1]), pull_sd = sqrt(reml$theta[2]), scaled_gradient = reml$gradient)
  ))
}

# --- consistency statistics (ISO 5725-2, ASTM E691) -------------------------------------------------------------------

cochran_critical <- function(p, n, alpha) {
  f <- qf(1 - alpha / p, n - 1, (p - 1) * (n - 1))
  f / (f + p - 1)
}
grubbs_critical <- function(p, alpha) {
  t <- qt(1 - alpha / p, p - 2)
  (p - 1) / sqrt(p) * sqrt(t^2 / (p - 2 + t^2))
}
mandel_h_critical <- function(p, alpha) {
  t <- qt(1 - alpha / 2, p - 2)
  (p - 1) * t / sqrt(p * (t^2 + p - 2))
}
mandel_k_critical <- function(p, n, alpha) {
  f <- qf(1 - alpha, n - 1, (p - 1) * (n - 1))
  sqrt(p * f / (f + p - 1))
}

consistency <- function(y, lab) {
  lab <- factor(lab, unique(lab))
  means <- as.vector(tapply(y, lab, mean))
  n <- as.vector(table(lab))
  p <- length(n)
  many <- n > 1
  variances <- as.vector(tapply(y, lab, var))
  a <- one_way(y, lab)
  s_l2 <- max(a$install_variance_anova, 0)
  list(
    p = p, n = I(n), m = mean(y), lab_means = means, s_r = a$pull_sd, s_L2 = a$install_variance_anova,
    s_R = sqrt(s_l2 + a$ms_within),
    cochran = max(variances[many]) / sum(variances[many]),
    grubbs_high = (max(means) - mean(means)) / sd(means), grubbs_low = (mean(means) - min(means)) / sd(means),
    mandel_h = (means - mean(means)) / sd(means),
    mandel_k = ifelse(many, sqrt(variances / (sum(variances[many] * (n[many] - 1)) / sum(n[many] - 1))), NA)
  )
}

critical_values <- list(
  cochran = lapply(list("0.05" = 0.05, "0.01" = 0.01), function(a) {
    table <- outer(3:40, 2:6, Vectorize(function(p, n) cochran_critical(p, n, a)))
    list(p = 3:40, n = 2:6, critical = table)
  }),
  grubbs_two_sided = lapply(list("0.05" = 0.05, "0.01" = 0.01), function(a)
    list(p = 3:40, critical = sapply(3:40, grubbs_critical, alpha = a / 2))),
  grubbs_one_sided = lapply(list("0.05" = 0.05, "0.01" = 0.01), function(a)
    list(p = 3:40, critical = sapply(3:40, grubbs_critical, alpha = a))),
  mandel_h = lapply(list("0.05" = 0.05, "0.01" = 0.01, "0.005" = 0.005), function(a)
    list(p = 3:40, critical = sapply(3:40, mandel_h_critical, alpha = a))),
  mandel_k = lapply(list("0.05" = 0.05, "0.01" = 0.01, "0.005" = 0.005), function(a) {
    table <- outer(3:40, 2:6, Vectorize(function(p, n) mandel_k_critical(p, n, a)))
    list(p = 3:40, n = 2:6, critical = table)
  })
)

# --- published sets ---------------------------------------------------------------------------------------------------

published <- fromJSON(file.path(here, "published.json"), simplifyVector = FALSE)
one_way_set <- function(name, source, y, group, extra = NULL) {
  c(list(name = name, source = source, y = I(y), install = I(as.character(group))), one_way(y, as.character(group)), extra)
}
profile_intervals <- function(formula, data) {
  fit <- suppressMessages(lmer(formula, data))
  limits <- suppressMessages(suppressWarnings(confint(fit, method = "profile", quiet = TRUE)))
  list(profile_install_sd = as.vector(limits[".sig01", ]), profile_pull_sd = as.vector(limits[".sigma", ]))
}

rail_intervals <- nlme::intervals(nlme::lme(travel ~ 1, nlme::Rail, ~ 1 | Rail))
gravity <- boot::gravity
one_way_sets <- list(
  one_way_set("Rail", "nlme::Rail; Pinheiro & Bates (2000), ch. 1", nlme::Rail$travel, nlme::Rail$Rail,
              c(profile_intervals(travel ~ 1 + (1 | Rail), nlme::Rail),
                list(nlme_install_sd = unlist(rail_intervals$reStruct$Rail[c("lower", "est.", "upper")], use.names = FALSE),
                     nlme_pull_sd = as.vector(rail_intervals$sigma)))),
  one_way_set("Dyestuff", "lme4::Dyestuff; Davies & Goldsmith (1972)", Dyestuff$Yield, Dyestuff$Batch,
              profile_intervals(Yield ~ 1 + (1 | Batch), Dyestuff)),
  one_way_set("Dyestuff2", "lme4::Dyestuff2; Box & Tiao (1973): the between-batch component is estimated as 0",
              Dyestuff2$Yield, Dyestuff2$Batch),
  one_way_set("morley", "datasets::morley; Michelson's speed of light, five experiments", morley$Speed, morley$Expt),
  one_way_set("gravity", "boot::gravity; eight series, unequal numbers and unequal scatter", gravity$g, gravity$series,
              list(series_sd = as.vector(tapply(gravity$g, gravity$series, sd)),
                   bartlett_p = bartlett.test(g ~ series, gravity)$p.value))
)

penicillin <- reml_optimum(Penicillin$diameter, matrix(1, nrow(Penicillin), 1), list(
  tcrossprod(indicator(Penicillin$plate)), tcrossprod(indicator(Penicillin$sample)), diag(nrow(Penicillin))))
gauge <- published$gauge_rr_lawson
part <- rep(1:10, each = 6)
operator <- rep(rep(1:3, each = 2), 10)
value <- unlist(gauge$y_part_major_operator_then_replicate)
gauge_reml <- reml_optimum(value, matrix(1, 60, 1), list(
  tcrossprod(indicator(part)), tcrossprod(indicator(operator)), tcrossprod(indicator(paste(part, operator))), diag(60)))
table <- anova(lm(value ~ factor(part) * factor(operator)))
ms <- table[["Mean Sq"]]
crossed_sets <- list(
  list(name = "Penicillin", source = "lme4::Penicillin; Davies & Goldsmith (1972)", y = I(Penicillin$diameter),
       plate = I(as.character(Penicillin$plate)), sample = I(as.character(Penicillin$sample)),
       reml = as.list(setNames(penicillin$theta, c("plate", "sample", "residual")))),
  list(name = "gauge", source = gauge$source, y = I(value), part = I(part), operator = I(operator),
       ms = as.list(setNames(ms, c("part", "operator", "part_operator", "error"))),
       anova = list(part = (ms[1] - ms[3]) / 6, operator = (ms[2] - ms[3]) / 20, part_operator = (ms[3] - ms[4]) / 2,
                    error = ms[4]),
       reml = as.list(setNames(gauge_reml$theta, c("part", "operator", "part_operator", "error"))))
)

# --- interlaboratory examples -----------------------------------------------------------------------------------------

long <- function(rows) {
  n <- lengths(rows)
  list(y = unlist(rows), lab = rep(seq_along(rows), n))
}
lab_set <- function(name, source, rows, without = integer(0)) {
  d <- long(rows)
  keep <- !d$lab %in% without
  c(list(name = name, source = source, y = I(d$y[keep]), lab = I(d$lab[keep])), consistency(d$y[keep], d$lab[keep]))
}
iso <- published$iso5725_2
creosote <- lapply(1:5, function(level) lapply(iso$creosote$lab_rows_level_pairs, function(row) unlist(row)[2 * level - 1:0]))
lab_sets <- c(
  lapply(1:4, function(i) lab_set(paste("sulphur in coal, level", i), "ISO 5725-2:1994, B.1",
                                  iso$sulphur_in_coal$levels[[i]])),
  list(lab_set("pitch, level 1", "ISO 5725-2:1994, B.2", iso$pitch$levels$L1),
       lab_set("pitch, level 2, without lab 5", "ISO 5725-2:1994, B.2", iso$pitch$levels$L2, 5),
       lab_set("pitch, level 4", "ISO 5725-2:1994, B.2", iso$pitch$levels$L4)),
  lapply(1:5, function(i) lab_set(paste("creosote, level", i, "all labs"), "ISO 5725-2:1994, B.3", creosote[[i]])),
  lapply(1:5, function(i) lab_set(paste("creosote, level", i), "ISO 5725-2:1994, B.3, outlying labs left out", creosote[[i]],
                                  if (i == 5) c(1, 6) else 1)),
  lapply(names(published$e691_glucose$materials), function(key)
    lab_set(paste("glucose", key), "ASTM E691, by CRAN package ILS 0.3",
            published$e691_glucose$materials[[key]]$data_lab_by_replicate))
)
# against the summaries collected with the data
expected <- c(iso$sulphur_in_coal$expected$s_R, list(1.6697, 1.5970, 1.9175), iso$creosote$expected_all$s_R,
              iso$creosote$expected_after_exclusions$s_R, lapply(published$e691_glucose$materials, `[[`, "s_R"))
stopifnot(max(abs(unlist(expected) - sapply(lab_sets, `[[`, "s_R"))) < 1e-4)

# --- invented noise studies: nothing is changed, the same parts are fitted again and again ----------------------------

study_x <- function(columns) {
  x <- cbind(baseline = 1, hours = (columns$minute - mean(columns$minute)) / 60)
  if (!is.null(columns$day)) x <- cbind(x, indicator(columns$day)[, -1, drop = FALSE])
  x
}

# Wander by REML beside install and pull: SDs, and df = 2 theta^2/var(theta) from the expected information.
with_wander <- function(columns, x) {
  y <- columns$y
  w <- exp(-abs(outer(columns$minute, columns$minute, `-`)) / 60)
  if (!is.null(columns$day)) w <- w * outer(columns$day, columns$day, `==`)
  g <- list(install = tcrossprod(indicator(columns$install)), wander = w, pull = diag(length(y)))
  if (length(unique(columns$install)) == 1) g$install <- NULL
  best <- reml_optimum(y, x, unname(g))
  v <- Reduce(`+`, Map(`*`, best$theta, g))
  vi <- solve(v)
  p <- vi - vi %*% x %*% solve(t(x) %*% vi %*% x, t(x) %*% vi)
  information <- outer(seq_along(g), seq_along(g), Vectorize(function(i, j) sum((p %*% g[[i]]) * t(p %*% g[[j]])) / 2))
  df <- 2 * best$theta^2 / diag(solve(information))
  list(sd = as.list(setNames(sqrt(best$theta), names(g))), df = as.list(setNames(df, names(g))))
}

# The drift by REML and Kenward-Roger, installs random.
drift_line <- function(columns, x) {
  l <- rbind(as.numeric(colnames(x) == "hours"))
  if (length(unique(columns$install)) == 1) {
    row <- summary(lm(columns$y ~ 0 + x))$coefficients["xhours", ]
    return(list(gain = row[[1]], se = row[[2]], df = length(columns$y) - ncol(x), p = row[[4]]))
  }
  g <- list(tcrossprod(indicator(columns$install)), diag(length(columns$y)))
  kenward_roger(columns$y, x, g, reml_optimum(columns$y, x, g)$theta, l)$rows[[1]][c("gain", "se", "df", "p")]
}

invented_study <- function(seed, name, about, columns, base, slope, sds, pull_sd, wander_sd = 0) {
  set.seed(seed)
  y <- readings(columns, base, list(), steady(slope), sds, pull_sd)
  if (wander_sd > 0) {
    w <- exp(-abs(outer(columns$minute, columns$minute, `-`)) / 60)
    y <- round(y + wander_sd * drop(t(chol(w)) %*% rnorm(length(y))), 2)
  }
  columns <- c(list(y = y), columns)
  x <- study_x(columns)
  found <- if (length(unique(columns$install)) > 1) one_way(columns$y, columns$install, x) else {
    fit <- lm.fit(x, columns$y)
    df <- fit$df.residual
    variance <- sum(fit$residuals^2) / df
    list(n = length(columns$y), mean = mean(columns$y), pull_sd = sqrt(variance), pull_df = df,
         pull_sd_interval = sd_interval(variance, df), repeatability_limit = qnorm(0.975) * sqrt(2) * sqrt(variance))
  }
  drift <- drift_line(columns, x)
  names(drift)[1] <- "per_hour"
  c(list(name = name, about = about, columns = lapply(columns, I)), found,
    list(drift = drift, with_wander = with_wander(columns, x)))
}

untouched <- function(pulls, ...) {
  columns <- oil_day(B, pulls, fresh = seq_along(pulls), ...)
  columns$oil <- NULL
  columns
}
studies <- list(
  invented_study(1, "five refits", "The same parts fitted five times, four pulls each.", untouched(rep(4, 5)), 205, -0.1,
                 list(install = 0.5), 0.55),
  invented_study(9, "unequal refits", "Six fittings of one to five pulls.", untouched(c(5, 2, 4, 1, 3, 4)), 205, -0.3,
                 list(install = 0.6), 0.5),
  invented_study(6, "refitting adds nothing", "The between-fitting mean square is below the within.",
                 untouched(c(4, 4, 4, 4)), 180, -0.1, list(install = 0), 0.7),
  invented_study(4, "two days", "Three fittings on each of two days.",
                 {
                   two <- several_days(function(i) untouched(c(4, 3, 4)), 2)
                   two$install <- two$install + 3 * (two$day == "day 2")
                   two
                 }, 205, -0.2, list(day = 0.8, install = 0.4), 0.5),
  invented_study(6, "one fitting", "Twelve pulls of an untouched engine.", untouched(12), 205, -0.4, list(), 0.5),
  invented_study(7, "long and wandering", "Eight fittings of five pulls, ten minutes apart, with slow wander.",
                 untouched(rep(5, 8), pull_minutes = 10), 205, -0.1, list(install = 0.3), 0.4, wander_sd = 0.6)
)

write_reference(list(
  about = paste("Published repeatability sets, interlaboratory examples and invented noise studies (no real engine):",
                "ANOVA and REML components, intervals, outlier statistics and critical values."),
  how = paste(
    "SSW = RSS[X, Z], SSB = RSS[X] - RSS[X, Z], m = tr(Z' M_X Z)/nu_B; X: mean, and for the invented studies hours and days.",
    "pull_sd_interval: chi-square. install_df_satterthwaite: (MSB - MSW)^2/(MSB^2/nu_B + MSW^2/nu_W).",
    "Generalised interval: quantiles of (SSB/chi2_B - SSW/chi2_W)/m (exact distribution when balanced).",
    "install_study_sd, install_study_df: the floor of 0.3 pull SDs and the clip to 1..nu_B applied.",
    "reml: bounded, by Newton (tools.R). profile_*: lme4 confint(method = 'profile') (maximum likelihood). repeatability_limit:",
    "1.959964 sqrt(2) pull_sd. Drift: REML and Kenward-Roger with installs random. with_wander: REML with",
    "exp(-|minutes apart|/60) within a day beside install and pull; df = 2 theta^2/var(theta), expected information",
    "of all components, those at 0 included."),
  one_way = one_way_sets, crossed = crossed_sets, laboratories = lab_sets, critical_values = critical_values,
  studies = studies
), c("lme4", "pbkrtest", "nlme", "boot", "Matrix", "jsonlite"))
