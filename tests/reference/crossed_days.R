# Invented days on which several parts were refitted, fittings crossed and one variance for each part, judged by lme4
# (REML) and pbkrtest (Kenward-Roger). Writes crossed_days.json. How the optimum is reached: see reml_days.R.
here <- dirname(normalizePath(sub("^--file=", "", grep("^--file=", commandArgs(FALSE), value = TRUE)[1])))
source(file.path(here, "tools.R"))
source(file.path(here, "fit_day.R"))
source(file.path(here, "invented.R"))

days <- list()
add <- function(day) days[[length(days) + 1]] <<- day
TWO <- c("oil_fitting", "headers_fitting")
BOTH <- c("oil=0W-20", "headers=long")

# One letter a stint: B or C for the oil, S or L for the headers; fresh refits of the oil where told.
crossing <- function(oil, headers, pulls, fresh = integer(0)) {
  oil <- c(B = B, C = C)[strsplit(oil, "")[[1]]]
  headers <- c(S = "stock", L = "long")[strsplit(headers, "")[[1]]]
  columns <- lay_out(list(oil = unname(oil), headers = unname(headers)), rep_len(pulls, length(oil)))
  columns$oil_fitting <- fittings(columns$oil, columns$stint, fresh)
  columns$headers_fitting <- fittings(columns$headers, columns$stint)
  columns$stint <- NULL
  columns
}
by_turns <- function(pulls) crossing("BCCBBCCBBCCBBC", "SSLLSSLLSSLLSS", pulls)
uneven_turns <- function(pulls) crossing("BCCBBCCBBCCBBCC", "SSLLSSSLLLSSLLS", pulls)
long_spells <- function(pulls, fresh = integer(0)) crossing("BCBCCBCBBCBC", "SSSLLLSSSLLL", pulls, fresh)
few_fittings <- function(pulls) crossing("BBCCBBCC", "SLLSSLLS", pulls)
two <- function(name, about, columns, sds, gains = list("oil=0W-20" = 1.1, "headers=long" = 2.4), slope = -0.1,
                pull_sd = 0.5, changes = BOTH, grouping = TWO, ...) {
  add(make_day(name, about, columns, readings(columns, 205, gains, steady(slope), sds, pull_sd), changes, grouping, ...))
}

set.seed(20260601)
two("by turns", "Oil and headers by turns, four pulls a stint.", by_turns(4), list(oil_fitting = 0.5, headers_fitting = 0.5))
two("unequal scatters", "The oil repeats well, the headers don't.", uneven_turns(4),
    list(oil_fitting = 0.05, headers_fitting = 0.6))
two("unequal numbers", "One to four pulls a stint.", uneven_turns(c(3, 1, 4, 2, 3)),
    list(oil_fitting = 0.4, headers_fitting = 0.7))
two("fresh refits", "The same oil filled fresh at some stints.", long_spells(4, fresh = c(5, 9)),
    list(oil_fitting = 0.6, headers_fitting = 0.3))
two("large scatters", "Refits that scatter several times as far as pulls.", uneven_turns(c(2, 3)),
    list(oil_fitting = 2.0, headers_fitting = 3.0), pull_sd = 0.3)
two("quadratic drift", "Through a drift that bends.", uneven_turns(c(3, 2)),
    list(oil_fitting = 0.5, headers_fitting = 0.5), drift = "quadratic")
two("few fittings", "Five fittings of each part.", few_fittings(4), list(oil_fitting = 0.5, headers_fitting = 0.5))

columns <- long_spells(4)
columns$vacuum <- rep_len(c("off", "on"), length(columns$minute))
two("a quick change beside", "A quick change switched inside every fitting.", columns,
    list(oil_fitting = 0.6, headers_fitting = 0.4), list("oil=0W-20" = 0.9, "headers=long" = 1.5, "vacuum=on" = 0.7),
    changes = c(BOTH, "vacuum=on"))

columns <- lay_out(list(oil = c(B, C, C, B, B, C, C, B, B, C, C, B, B, C, C, B),
                        headers = rep(c("stock", "long", "stock", "long", "stock"), c(2, 4, 4, 4, 2)),
                        fuel = c(rep("pump", 5), rep("blend", 4), rep("pump", 3), rep("blend", 4))),
                   rep_len(c(3, 2), 16), changeover = 20)
for (part in c("oil", "headers", "fuel")) columns[[paste0(part, "_fitting")]] <- fittings(columns[[part]], columns$stint)
columns$stint <- NULL
two("three parts", "Oil, headers and fuel, each with a variance of its own.", columns,
    list(oil_fitting = 0.5, headers_fitting = 0.3, fuel_fitting = 0.4),
    list("oil=0W-20" = 1.0, "headers=long" = 1.6, "fuel=blend" = -0.5),
    changes = c(BOTH, "fuel=blend"), grouping = c(TWO, "fuel_fitting"))

columns <- several_days(function(i) crossing("BCCBBCCBB", "SSLLSSLLS", c(3, 2, 3)), 2)
for (part in TWO) {
  both <- paste(columns$day, columns[[part]])
  columns[[part]] <- as.integer(factor(both, unique(both)))
}
two("two days", "Fittings of each day its own, days fixed.", columns, list(oil_fitting = 0.5, headers_fitting = 0.5),
    days = "fixed")
two("two days, random", "The same pulls' design, new readings, the days random.", columns,
    list(day = 0.6, oil_fitting = 0.5, headers_fitting = 0.4), grouping = c("day", TWO), days = "random")

set.seed(3)
two("one part at the boundary", "The estimate for the oil is 0, the headers' is not.", uneven_turns(3),
    list(oil_fitting = 0, headers_fitting = 0.8))
set.seed(11)
two("both at the boundary", "Both estimates are 0.", uneven_turns(c(4, 3)), list(oil_fitting = 0, headers_fitting = 0),
    pull_sd = 0.6)

results <- lapply(days, fit_day)
stopifnot(sum(sapply(results, `[[`, "boundary")) >= 2)
write_reference(list(
  about = "Invented days of testing (no real engine, part or cell): crossed fittings of several parts, a variance each.",
  how = "lme4's model at the REML optimum bounded at zero, pbkrtest's vcovAdj and Lb_ddf; columns as in reml_days.json.",
  relative_error_reached = max(sapply(results, `[[`, "relative_error_reached")),
  days = results
), c("lme4", "pbkrtest", "Matrix", "jsonlite"))
