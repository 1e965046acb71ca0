# Reference fits by lme4 for correlated random effects by unit with groups
# nested in units. Run in this folder: Rscript nested.R
# Writes nested_<case>.csv (data) and nested.json (results, versions, calls).
suppressMessages({library(lme4); library(lmerTest); library(pbkrtest); library(numDeriv)})
RNGversion("4.2.0")

num <- function(x) ifelse(is.na(x), "null", ifelse(is.infinite(x), "null", sprintf("%.17g", x)))
json <- function(x) {
  if (is.null(x)) return("null")
  if (is.list(x)) {
    items <- vapply(x, json, "")
    if (is.null(names(x))) return(paste0("[", paste(items, collapse = ","), "]"))
    return(paste0("{", paste0('"', names(x), '":', items, collapse = ",\n"), "}"))
  }
  if (is.matrix(x)) return(json(unname(lapply(seq_len(nrow(x)), function(i) unname(x[i, ])))))
  if (is.character(x)) { v <- paste0('"', x, '"')
    return(if (length(v) == 1) v else paste0("[", paste(v, collapse = ","), "]")) }
  v <- num(unname(as.numeric(x)))
  paste0("[", paste(v, collapse = ","), "]")
}

# Without variance between groups, errors that balance out within each group
# put its estimate at zero for certain.
errors <- function(n, tau) { e <- rnorm(n); if (tau == 0) e - mean(e) else e }

make <- function(seed, units, groups, rows, S, tau, sigma, shift = 0) {
  set.seed(seed)
  out <- NULL
  L <- t(chol(S + diag(1e-300, 3)))
  for (u in seq_len(units)) {
    b <- drop(L %*% rnorm(3))
    for (g in seq_len(groups(u))) {
      n <- rows(u, g)
      x1 <- rnorm(n, 0.3 * rnorm(1)); x2 <- rnorm(n, shift, 0.8)
      y <- 130 + b[1] + (4 + b[2]) * x1 + (-2 + b[3]) * (x2 - shift) + 1.5 * (x2 - shift)^2 +
        tau * rnorm(1) + sigma * errors(n, tau)
      out <- rbind(out, data.frame(unit = sprintf("u%02d", u), group = sprintf("g%02d", g), x1 = x1, x2 = x2, y = y))
    }
  }
  out
}
D <- diag(c(8, 3, 2.5)); R <- matrix(c(1, .3, -.4, .3, 1, .2, -.4, .2, 1), 3)
S <- D %*% R %*% D
full <- "y ~ x1 + x2 + I(x2^2) + (1 + x1 + x2 | unit) + (1 | unit:group)"
cases <- list(
  balanced = list(make(21, 20, function(u) 4, function(u, g) 6, S, 3, 4), full),
  unbalanced = list(make(12, 20, function(u) 2 + u %% 4, function(u, g) 2 + (3 * u + 5 * g) %% 7, S, 3, 4), full),
  # x2 lies about 40. lme4 cannot bring its gradient to zero on such columns, so
  # it gets them centred.
  shifted = list(make(13, 14, function(u) 2 + u %% 4, function(u, g) 2 + (3 * u + 5 * g) %% 7, S, 3, 4, 40),
    "y ~ x1 + I(x2 - 40) + I((x2 - 40)^2) + (1 + x1 + I(x2 - 40) | unit) + (1 | unit:group)"),
  no_group_variance = list(make(14, 12, function(u) 3 + u %% 2, function(u, g) 3 + (u + g) %% 4, S, 0, 6), full),
  no_slope_variance = list(make(15, 12, function(u) 3 + u %% 3, function(u, g) 3 + (u + 2 * g) %% 5, diag(c(64, 0, 1)), 3, 5), full),
  independent = list(make(16, 12, function(u) 3 + u %% 3, function(u, g) 3 + (u + 2 * g) %% 5, D^2, 3, 5),
    "y ~ x1 + x2 + I(x2^2) + (1 + x1 + x2 || unit) + (1 | unit:group)"),
  intercepts = list(make(17, 10, function(u) 2 + u %% 4, function(u, g) 1 + (u + 2 * g) %% 5, S, 5, 5),
    "y ~ x1 + x2 + I(x2^2) + (1 | unit) + (1 | unit:group)"),
  slopes = list(make(18, 12, function(u) 2 + u %% 3, function(u, g) 2 + (u + 2 * g) %% 5, S, 3, 5),
    "y ~ x1 + x2 + I(x2^2) + (0 + x1 + x2 | unit) + (1 | unit:group)")
)

# The optimum of lme4's own profiled deviance, polished by Newton steps in the
# coordinates that are not at zero.
polish <- function(formula, data, REML) {
  quiet <- function(e) suppressWarnings(suppressMessages(e))
  best <- NULL
  for (opt in c("bobyqa", "Nelder_Mead")) {
    f <- quiet(lmer(formula, data, REML = REML, control = lmerControl(optimizer = opt, calc.derivs = FALSE,
      optCtrl = if (opt == "bobyqa") list(rhobeg = 0.2, rhoend = 1e-9, maxfun = 1e5) else list(FtolAbs = 1e-12, XtolRel = 1e-10, maxfun = 1e5))))
    if (is.null(best) || deviance(f, REML = REML) < deviance(best, REML = REML)) best <- f
  }
  dev <- quiet(update(best, devFunOnly = TRUE))
  th <- getME(best, "theta"); lower <- getME(best, "lower")
  zero <- lower == 0 & th < 1e-4
  th[zero] <- 0
  free <- which(!zero)
  g <- NULL
  for (i in 1:4) {
    fn <- function(v) { t <- th; t[free] <- v; dev(t) }
    g <- grad(fn, th[free]); H <- hessian(fn, th[free])
    step <- tryCatch(solve(H, g), error = function(e) NULL)
    if (is.null(step) || any(!is.finite(step)) || max(abs(step)) > 0.05) break
    new <- th; new[free] <- th[free] - step
    if (dev(new) > dev(th) + 1e-9) break
    th <- new
  }
  # do.call: the model carries its data, so that lmerTest can call it again.
  fm <- quiet(do.call("lmer", list(formula, data, REML = REML, start = list(theta = th),
    control = lmerControl(optimizer = NULL, calc.derivs = FALSE))))
  list(fit = fm, theta = getME(fm, "theta"), gradient = max(abs(g)), zero = sum(zero))
}

result <- list()
for (name in names(cases)) {
  d <- cases[[name]][[1]]; f <- as.formula(cases[[name]][[2]])
  write.csv(format(d, digits = 17, trim = TRUE), sprintf("nested_%s.csv", name), row.names = FALSE, quote = FALSE)
  d <- read.csv(sprintf("nested_%s.csv", name))
  entry <- list(formula = cases[[name]][[2]])
  for (REML in c(TRUE, FALSE)) {
    p <- polish(f, d, REML); fm <- p$fit
    lt <- suppressMessages(suppressWarnings(as_lmerModLmerTest(fm)))
    ct <- coef(summary(lt))
    vc <- as.data.frame(VarCorr(fm))
    r <- ranef(fm, condVar = TRUE)
    e <- list(theta = p$theta, theta_names = names(p$theta), max_abs_gradient = p$gradient, at_zero = p$zero,
      criterion = -2 * as.numeric(logLik(fm)), beta = fixef(fm), se = sqrt(diag(as.matrix(vcov(fm)))),
      vcov = as.matrix(vcov(fm)), sigma = sigma(fm), variances = vc$vcov, variance_groups = vc$grp,
      satterthwaite_df = ct[, "df"], aic = AIC(fm), bic = BIC(fm))
    joint <- tryCatch(contestMD(lt, rbind(c(0, 1, 0, 0), c(0, 0, 1, 0))), error = function(e) NULL)
    if (!is.null(joint)) e$satterthwaite_joint <- c(joint[["F value"]], joint$NumDF, joint$DenDF)
    u <- as.matrix(r$unit); e$unit_effects <- unname(u)
    pv <- attr(r$unit, "postVar"); if (is.list(pv)) pv <- NULL
    if (!is.null(pv)) e$unit_condvar_first <- matrix(pv[, , 1], ncol(u))
    gr <- r$`unit:group`; e$group_names <- rownames(gr); e$group_effects <- gr[, 1]
    e$group_condvar <- as.numeric(attr(gr, "postVar"))
    if (REML && p$zero == 0) {
      va <- vcovAdj(fm)
      e$kenward_roger_vcov <- as.matrix(va)
      e$kenward_roger_df <- sapply(1:4, function(i) { L <- rep(0, 4); L[i] <- 1; Lb_ddf(L, vcov(fm), va) })
      L <- rbind(c(0, 1, 0, 0), c(0, 0, 1, 0))
      kr <- pbkrtest:::KRmodcomp(fm, L)$stats
      e$kenward_roger_joint <- c(kr$Fstat, kr$ndf, kr$ddf, kr$F.scaling)
    }
    if (!REML && name %in% c("unbalanced", "intercepts")) {
      pf <- do.call("lmer", list(f, d, REML = FALSE, control = lmerControl(optimizer = "bobyqa", optCtrl = list(rhobeg = 0.2, rhoend = 1e-9))))
      pr <- suppressWarnings(confint(pf, method = "profile", oldNames = FALSE, quiet = TRUE))
      e$profile_names <- rownames(pr); e$profile <- unname(pr)
    }
    if (!REML) {
      small <- suppressMessages(suppressWarnings(lmer(update(f, . ~ . - I(x2^2) - I((x2 - 40)^2)), d, REML = FALSE, control = lmerControl(optCtrl = list(xtol_abs = 1e-10, ftol_abs = 1e-12)))))
      chisq <- 2 * as.numeric(logLik(fm) - logLik(small))
      e$lrt_without_square <- c(chisq, 1, pchisq(chisq, 1, lower.tail = FALSE))
    }
    entry[[if (REML) "REML" else "ML"]] <- e
    cat(name, REML, p$gradient, p$zero, "\n")
  }
  result[[name]] <- entry
}
v <- function(p) as.character(packageVersion(p))
out <- list(versions = list(R = R.version.string, lme4 = v("lme4"), lmerTest = v("lmerTest"), pbkrtest = v("pbkrtest"), numDeriv = v("numDeriv")),
  script = "nested.R", cases = result)
cat(json(out), "\n", file = "nested.json")
