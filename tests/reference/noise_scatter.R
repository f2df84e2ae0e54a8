# What goes with the scatter of one study, scatter against level, metrics side by side, and the time constant of wander.
# Readings are invented (no real engine) or those of noise_sets.json and published.json. Writes noise_scatter.json.
here <- dirname(normalizePath(sub("^--file=", "", grep("^--file=", commandArgs(FALSE), value = TRUE)[1])))
source(file.path(here, "tools.R"))

# --- covariates: the t test of a coefficient in lm is the test of the partial correlation ------------------------------

set.seed(31)
fit <- rep(1:5, each = 4)
minute <- 4 * seq_along(fit) + 30 * (fit - 1)
oil <- round(90 + 1.5 * rnorm(20), 1)
air <- round(21 + minute / 100 + 0.4 * rnorm(20), 1)
y <- round(205 + 0.3 * (oil - 90) + 0.6 * rnorm(5)[fit] - 0.002 * minute + 0.5 * rnorm(20), 2)
plain <- lm(y ~ factor(fit) + minute)
with_one <- function(x) {
  both <- lm(y ~ factor(fit) + minute + x)
  row <- summary(both)$coefficients["x", ]
  r <- cor(resid(plain), resid(lm(x ~ factor(fit) + minute)))
  list(correlation = r, p = row[[4]], takes_out = max(0, 1 - sigma(both)^2 / sigma(plain)^2))
}
found <- list(oil = with_one(oil), air = with_one(air))
holm <- p.adjust(sapply(found, `[[`, "p"), "holm")
for (name in names(found)) found[[name]]$holm_p <- holm[[name]]

# --- two metrics on the same pulls: cor.test of sum and difference, solved for the ratio of variances ------------------

first <- round(411 + 0.6 * rnorm(18), 2)
second <- round(446 + 0.8 * (first - 411) + 0.9 * rnorm(18), 2)
a <- 100 * (first / mean(first) - 1)
b <- 100 * (second / mean(second) - 1)
p_at <- function(ratio) cor.test(b / sqrt(ratio) + a, b / sqrt(ratio) - a)$p.value - 0.05
ratio <- var(b) / var(a)
paired <- list(first = I(first), second = I(second), ratio = ratio, p_equal = p_at(1) + 0.05,
               low = uniroot(p_at, c(ratio / 1e3, ratio), tol = 1e-13)$root,
               high = uniroot(p_at, c(ratio, ratio * 1e3), tol = 1e-12)$root)

# --- scatter against level: mean squares as gamma variables of known shape df/2, log link -----------------------------

published <- fromJSON(file.path(here, "published.json"), simplifyVector = FALSE)
exponent <- function(name, source, m, ms, df) {
  x <- log(m)
  at <- function(e) deviance(glm(ms ~ 1 + offset(2 * e * x), family = Gamma("log"), weights = df / 2,
                                 control = glm.control(epsilon = 1e-14, maxit = 100)))
  best <- glm(ms ~ x, family = Gamma("log"), weights = df / 2, control = glm.control(epsilon = 1e-14, maxit = 100))
  top <- coef(best)[["x"]] / 2
  end <- function(to) uniroot(function(e) at(e) - deviance(best) - qchisq(0.95, 1), sort(c(top, to)), tol = 1e-12)$root
  list(name = name, source = source, m = I(m), variance = I(ms), df = I(df), exponent = top, low = end(top - 0.6),
       high = end(top + 0.6), p = pchisq(at(0) - deviance(best), 1, lower.tail = FALSE),
       least_squares = coef(lm(log(sqrt(ms)) ~ x))[["x"]])
}
pooled <- function(cells) {
  cells <- lapply(cells, unlist)
  df <- sum(lengths(cells) - 1)
  list(m = mean(sapply(cells, mean)), ms = sum(sapply(cells, function(v) sum((v - mean(v))^2))) / df, df = df)
}
of_levels <- function(name, source, levels) {
  found <- lapply(levels, pooled)
  pick <- function(key) unname(sapply(found, `[[`, key))
  exponent(name, source, pick("m"), pick("ms"), pick("df"))
}
iso <- published$iso5725_2
creosote <- lapply(1:5, function(level) {
  out <- if (level == 5) c(1, 6) else 1
  lapply(iso$creosote$lab_rows_level_pairs[-out], function(row) unlist(row)[2 * level - 1:0])
})
levels <- list(
  of_levels("creosote", "ISO 5725-2:1994, B.3, outlying labs left out", creosote),
  of_levels("sulphur in coal", "ISO 5725-2:1994, B.1", iso$sulphur_in_coal$levels),
  of_levels("glucose", "ASTM E691, by CRAN package ILS 0.3",
            lapply(published$e691_glucose$materials, `[[`, "data_lab_by_replicate"))
)

# --- wander: REML log-likelihood at several time constants, beside fittings and without any ---------------------------

sets <- fromJSON(file.path(here, "noise_sets.json"), simplifyVector = FALSE)
long <- Filter(function(s) s$name == "long and wandering", sets$studies)[[1]]$columns
long <- lapply(long, unlist)
x <- cbind(1, (long$minute - mean(long$minute)) / 60)
taus <- c(20, 60, 150)
kernel <- function(tau) exp(-abs(outer(long$minute, long$minute, `-`)) / tau)
beside <- sapply(taus, function(tau)
  reml_optimum(long$y, x, list(tcrossprod(indicator(long$install)), kernel(tau), diag(length(long$y))))$value)
frame <- data.frame(y = long$y, minute = long$minute)
alone <- sapply(taus, function(tau) -optimize(function(nugget) -as.numeric(logLik(nlme::gls(
  y ~ minute, frame, correlation = nlme::corExp(c(tau, nugget), form = ~minute, nugget = TRUE, fixed = TRUE)))),
  c(1e-9, 1 - 1e-4), tol = 1e-11)$objective)
free <- nlme::gls(y ~ minute, frame, correlation = nlme::corExp(c(60, 0.3), form = ~minute, nugget = TRUE))
free_range <- coef(free$modelStruct$corStruct, unconstrained = FALSE)[["range"]]

write_reference(list(
  about = paste("Invented readings (no real engine) and published sets: covariates by lm, two metrics by cor.test, scatter",
                "against level by glm, wander's time constant by REML."),
  covariates = list(fit = I(fit), minute = I(minute), oil = I(oil), air = I(air), y = I(y), found = found),
  paired = paired, levels = levels,
  wander = list(study = "long and wandering", taus = I(taus), log_likelihood_beside_fittings = I(beside),
                log_likelihood_without_fittings = I(alone), time_constant_without_fittings = free_range,
                log_likelihood_there = as.numeric(logLik(free)))
), c("lme4", "pbkrtest", "nlme", "Matrix", "jsonlite"))
