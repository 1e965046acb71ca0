# Writes weighted.json: weighted least squares with cluster-robust covariances as
# clubSandwich gives them by default (target: equal variances) and with the variances
# inverse to the weights (inverse_var = TRUE), on absorbed.csv: without groups, with an
# indicator for each cluster, for groups nested in clusters and for groups that cut
# across them. Run in this folder: Rscript weighted.R
suppressPackageStartupMessages({library(clubSandwich); library(jsonlite)})
d <- read.csv("absorbed.csv")
terms <- c("x", "z", "log1p(t)")
one <- function(m, inverse_var) {
  i <- match(terms, names(coef(m)))
  C <- matrix(0, 2, length(coef(m))); C[cbind(1:2, i[1:2])] <- 1
  lapply(setNames(nm = c("CR0", "CR1", "CR2", "CR3")), function(k) {
    # With an effect for each cluster the blocks of CR3 are singular, which R inverts all the same.
    if (k == "CR3" && length(coef(m)) > 10) return(NULL)
    V <- if (inverse_var) vcovCR(m, cluster = d$session, type = k, inverse_var = TRUE) else vcovCR(m, cluster = d$session, type = k)
    ct <- coef_test(m, vcov = V, test = "Satterthwaite")
    w <- Wald_test(m, constraints = C, vcov = V, test = "HTZ")
    list(vcov = unname(as.matrix(V)[i, i]), df = ct$df_Satt[i], p = ct$p_Satt[i],
         wald = list(f = w$Fstat, df1 = w$df_num, df2 = w$df_denom, p = w$p_val))
  })
}
f <- function(g) as.formula(paste0("y ~ x + z + log1p(t)", if (g != "") paste0(" + factor(", g, ")")))
sets <- lapply(c(none = "", same = "session", nested = "half", crossed = "block"), function(g) {
  m <- lm(f(g), d, weights = w)
  list(estimate = unname(coef(m)[terms]), equal = one(m, FALSE), inverse = one(m, TRUE))
})
out <- list(
  source = paste0("weighted.R: ", R.version.string, ", clubSandwich ", packageVersion("clubSandwich"),
    "; lm(weights = w), vcovCR(cluster = session), the same with inverse_var = TRUE, coef_test(test = 'Satterthwaite'), Wald_test(test = 'HTZ') of x and z"),
  sets = sets)
write_json(out, "weighted.json", digits = NA, auto_unbox = TRUE, null = "null", pretty = FALSE)
