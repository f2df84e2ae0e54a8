# How the invented days of reml_days.R and study_days.R are laid out and read.

# A day from its stints: `pulls` a stint, levels per factor, and how long before each stint a changeover takes.
lay_out <- function(levels, pulls, changeover = 25, pull_minutes = 4, start = 15) {
  count <- length(pulls)
  gap <- rep_len(changeover, count)
  gap[1] <- start
  minute <- unlist(lapply(seq_len(count), function(i) c(gap[i], rep(0, pulls[i] - 1)))) + pull_minutes
  stint <- rep(seq_len(count), pulls)
  c(list(minute = cumsum(minute), stint = stint), lapply(levels, function(l) rep_len(l, count)[stint]))
}

# Fittings of a factor: up by one whenever its part changes, or at the stints where a fresh refit was done.
fittings <- function(level, stint, fresh = integer(0)) {
  first <- c(TRUE, level[-1] != level[-length(level)])
  again <- c(FALSE, stint[-1] != stint[-length(stint)]) & stint %in% fresh
  cumsum(first | again)
}

# Readings: baseline + gains + drift + random effects + pull scatter, rounded as a dyno prints them.
readings <- function(columns, base, gains, drift, sds, pull_sd, digits = 2) {
  y <- base + drift(columns$minute / 60)
  for (key in names(gains)) {
    part <- strsplit(key, "=")[[1]]
    y <- y + gains[[key]] * (columns[[part[1]]] == part[2])
  }
  for (group in names(sds)) {
    labels <- as.integer(factor(columns[[group]]))
    y <- y + rnorm(max(labels), 0, sds[[group]])[labels]
  }
  round(y + rnorm(length(y), 0, pull_sd), digits)
}

# A day with everything that the fit needs to know; columns keep the order y first.
make_day <- function(name, about, columns, y, changes, grouping, drift = "linear", days = "none",
                     common_variance = FALSE) {
  parts <- lapply(strsplit(changes, "="), function(p) list(factor = p[1], level = p[2]))
  factors <- unique(sapply(parts, `[[`, "factor"))
  baseline <- lapply(setNames(factors, factors), function(f) {
    on <- sapply(parts, function(p) if (p$factor == f) p$level else NA)
    setdiff(unique(columns[[f]]), on)
  })
  stopifnot(all(lengths(baseline) == 1))
  list(name = name, about = about, columns = c(list(y = y), columns), changes = parts, baseline = baseline,
       grouping = grouping, drift = drift, days = days, common_variance = common_variance)
}

keep_rows <- function(columns, rows) lapply(columns, `[`, rows)
steady <- function(slope) function(hour) slope * hour
B <- "15W-50"
C <- "0W-20"
oil_day <- function(levels, pulls, fresh = integer(0), ...) {
  columns <- lay_out(list(oil = levels), pulls, ...)
  columns$install <- fittings(columns$oil, columns$stint, fresh)
  columns$stint <- NULL
  columns
}

# Days in a row: each day's minutes from its own start.
several_days <- function(make, count) {
  each <- lapply(seq_len(count), make)
  columns <- lapply(setNames(names(each[[1]]), names(each[[1]])), function(n) unlist(lapply(each, `[[`, n)))
  columns$day <- rep(sprintf("day %d", seq_len(count)), sapply(each, function(d) length(d$minute)))
  columns
}

# Two refitted parts, each with fittings of its own; `install` counts every change of either.
two_parts <- function(oil, headers, pulls) {
  columns <- lay_out(list(oil = oil, headers = headers), pulls, changeover = 30)
  columns$oil_fitting <- fittings(columns$oil, columns$stint)
  columns$headers_fitting <- fittings(columns$headers, columns$stint)
  columns$install <- as.integer(factor(paste(columns$oil_fitting, columns$headers_fitting),
                                       unique(paste(columns$oil_fitting, columns$headers_fitting))))
  columns$stint <- NULL
  columns
}
