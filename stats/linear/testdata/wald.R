# Writes wald.json: Wald tests of several coefficients at once, CR3 and HC4, on
# absorbed.csv and the unbalanced sleepstudy. Run in this folder: Rscript wald.R
suppressPackageStartupMessages({library(clubSandwich); library(sandwich); library(jsonlite)})
htz <- function(m, cluster, type, C) {
  V <- vcovCR(m, cluster = cluster, type = type)
  w <- Wald_test(m, constraints = C, vcov = V, test = "HTZ")
  list(f = w$Fstat, df1 = w$df_num, df2 = w$df_denom, p = w$p_val)
}
# The classical and HC Wald F tests, by the textbook formula.
plain <- function(m, V, C) {
  q <- nrow(C); b <- coef(m)
  f <- drop(t(C %*% b) %*% solve(C %*% V %*% t(C), C %*% b)) / q
  list(f = f, df1 = q, df2 = m$df.residual, p = pf(f, q, m$df.residual, lower.tail = FALSE))
}
cr3 <- function(m, cluster) {
  V <- vcovCR(m, cluster = cluster, type = "CR3")
  ct <- coef_test(m, vcov = V, test = "Satterthwaite")
  list(vcov = unname(as.matrix(V)), df = ct$df_Satt)
}
d <- read.csv("absorbed.csv")
s <- read.csv("sleepstudy_unbalanced.csv")
m <- lm(y ~ x + z + log1p(t) + factor(session), d)   # absorbed groups, written out
m0 <- lm(y ~ x + z + log1p(t), d)                    # none
crossed <- lm(y ~ x + z + log1p(t) + factor(block), d)
sl <- lm(Reaction ~ Days, s)
selecting <- function(m, names) { C <- matrix(0, length(names), length(coef(m))); C[cbind(seq_along(names), match(names, names(coef(m))))] <- 1; C }
three <- c("x", "z", "log1p(t)")
# x equals 10 z, and z equals log1p(t).
equal <- function(m) { C <- selecting(m, c("x", "z")); i <- match(three, names(coef(m))); C[1, i] <- c(1, -10, 0); C[2, i] <- c(0, 1, -1); C }
tests <- function(m, cluster) {
  C <- list(three = selecting(m, three), two = selecting(m, c("x", "z")), one = selecting(m, "x"), equal = equal(m))
  out <- list()
  for (k in names(C)) out[[k]] <- c(
    lapply(setNames(nm = c("CR0", "CR1", "CR2", "CR3")), function(t) htz(m, cluster, t, C[[k]])),
    list(classical = plain(m, vcov(m), C[[k]]), HC3 = plain(m, vcovHC(m, "HC3"), C[[k]])))
  out
}
out <- list(
  source = paste0("wald.R: ", R.version.string, ", clubSandwich ", packageVersion("clubSandwich"), ", sandwich ", packageVersion("sandwich"),
                  "; Wald_test(test = 'HTZ'), vcovCR(type = 'CR3'), vcovHC(type = 'HC4')"),
  wald = list(none = tests(m0, d$session), same = tests(m, d$session), crossed = tests(crossed, d$session)),
  sleepstudy = list(both = htz(sl, s$Subject, "CR2", diag(2)), cr3 = cr3(sl, s$Subject), hc4 = unname(vcovHC(sl, "HC4"))),
  cr3 = cr3(m0, d$session), hc4 = unname(vcovHC(m0, "HC4")))
write_json(out, "wald.json", digits = NA, auto_unbox = TRUE, pretty = TRUE)
