# Critical values of a band over a range: 2 P(t > c) + (kappa / pi) (1 + c^2/nu)^(-(nu - 1)/2) = risk, the expected Euler
# characteristic of a t field of one dimension (Worsley 1994, Adv. Appl. Probab. 26, 13-42). Writes curve_band.json.
source(file.path(dirname(normalizePath(sub("^--file=", "", grep("^--file=", commandArgs(FALSE), value = TRUE)[1]))),
                 "tools.R"))

critical <- function(nu, kappa, risk) {
  left <- function(c) 2 * pt(-c, nu) + kappa / pi * (1 + c^2 / nu)^(-(nu - 1) / 2) - risk
  uniroot(left, c(qt(1 - risk / 2, nu), 1000), tol = 1e-12)$root
}

cases <- list()
for (nu in c(4, 8, 15, 30)) for (kappa in c(0, 3, 10)) for (risk in c(0.05, 0.025)) {
  c <- if (kappa == 0) qt(1 - risk / 2, nu) else critical(nu, kappa, risk)
  cases <- c(cases, list(list(df = nu, kappa = kappa, risk = risk, critical = c)))
}
write_reference(list(
  about = "Critical values of a band over a range, by R's own t and root finder.",
  cases = cases
), c("jsonlite"))
