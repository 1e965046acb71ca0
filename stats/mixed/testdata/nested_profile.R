# Profile limits of the ML fit of nested_unbalanced.csv by direct constrained
# minimisation of lme4's deviance: lme4's own confint gives up on the
# correlations (limits of -1 and 1, with warnings of a profile that is not
# monotonic) and interpolates coarsely. Run in this folder after nested.R.
suppressMessages(library(lme4))
d <- read.csv("nested_unbalanced.csv", strip.white = TRUE)
m <- suppressMessages(lmer(y ~ x1 + x2 + I(x2^2) + (1 + x1 + x2 | unit) + (1 | unit:group), d, REML = FALSE,
  control = lmerControl(optimizer = "bobyqa", calc.derivs = FALSE, optCtrl = list(rhobeg = 0.2, rhoend = 1e-10))))
dev <- update(m, devFunOnly = TRUE); n <- nrow(d)
lowest <- -2 * as.numeric(logLik(m))
# Deviance at S (3 x 3), t and s, absolute.
full <- function(L, t, s) {
  L <- L / s
  dev(c(t / s, L[1, 1], L[2, 1], L[3, 1], L[2, 2], L[3, 2], L[3, 3]))
  e <- environment(dev)
  e$pp$ldL2() + n * log(2 * pi * s^2) + (e$resp$wrss() + e$pp$sqrL(1)) / s^2
}
canonical <- function(M) { S <- M %*% t(M); t(chol(S + diag(1e-12 * diag(S)))) }
Lhat <- t(chol(matrix(VarCorr(m)$unit, 3))); that <- attr(VarCorr(m)$`unit:group`, "stddev"); shat <- sigma(m)
# M is lower triangular with the terms in the given order, the first (two) held.
held <- function(order, what) {
  S <- Lhat %*% t(Lhat); M <- t(chol(S[order, order]))
  back <- match(1:3, order)
  function(v) {
    build <- function(p) {
      M <- matrix(0, 3, 3)
      if (what == "cor") {
        M[1, 1] <- p[1]; M[2, 1] <- p[2] * v; M[2, 2] <- p[2] * sqrt(1 - v^2)
      } else {
        M[1, 1] <- v; M[2, 1] <- p[1]; M[2, 2] <- p[2]
      }
      M[3, ] <- p[3:5]
      full(canonical(M[back, ]), abs(p[6]), abs(p[7]))
    }
    start <- c(if (what == "cor") c(M[1, 1], sqrt(sum(M[2, ]^2))) else M[2, 1:2], M[3, ], that, shat)
    best <- nlminb(start, build, control = list(rel.tol = 1e-13, x.tol = 1e-10, eval.max = 5000, iter.max = 2000))
    for (k in 1:2) best <- nlminb(best$par, build, control = list(rel.tol = 1e-14, x.tol = 1e-11, eval.max = 5000, iter.max = 2000))
    best$objective - lowest - qchisq(0.95, 1)
  }
}
S <- Lhat %*% t(Lhat); R <- cov2cor(S)
limits <- list()
one <- function(name, f, est, low, high) {
  limits[[name]] <<- c(uniroot(f, c(low, est), tol = 1e-7)$root, uniroot(f, c(est, high), tol = 1e-7)$root)
  cat(name, limits[[name]], "\n")
}
one("cor_x1.(Intercept)|unit", held(c(1, 2, 3), "cor"), R[1, 2], -0.95, 0.95)
one("cor_x2.(Intercept)|unit", held(c(1, 3, 2), "cor"), R[1, 3], -0.99, 0.95)
one("cor_x2.x1|unit", held(c(2, 3, 1), "cor"), R[2, 3], -0.95, 0.97)
one("sd_x2|unit", held(c(3, 1, 2), "sd"), sqrt(S[3, 3]), sqrt(S[3, 3]) * 0.4, sqrt(S[3, 3]) * 2.2)
out <- paste0('"', names(limits), '": [', vapply(limits, function(v) paste(sprintf("%.10g", v), collapse = ", "), ""), "]", collapse = ",\n")
cat("{", out, "}\n", file = "nested_profile.json")
