# Writes regression.json: meta-regression by metafor on dat.bcg with absolute
# latitude and year, under eight estimators of tau2, three tests, and robust
# standard errors by trial and by groups of trials. Run here: Rscript regression.R
suppressPackageStartupMessages({library(metafor); library(jsonlite)})
d <- escalc(measure = "RR", ai = tpos, bi = tneg, ci = cpos, di = cneg, data = dat.bcg)
d$group <- c(1, 1, 2, 2, 3, 3, 4, 4, 5, 5, 6, 6, 7)
one <- function(mods, method, test) {
  m <- rma(yi, vi, mods = mods, data = d, method = method, test = test,
           control = list(threshold = 1e-13, maxiter = 10000, tol = 1e-13))
  q <- if (method == "FE" || m$p == m$k - 0) NULL else confint(m, control = list(tol = 1e-13))$random[1, 2:3]
  new <- if (length(m$b) == 2) 30 else c(30, 1965)
  pr <- predict(m, newmods = new)
  list(method = method, test = test, beta = unname(drop(m$beta)), se = m$se, stat = unname(m$zval), p = m$pval,
       ci_low = m$ci.lb, ci_high = m$ci.ub, vcov = unname(m$vb), tau2 = m$tau2, se_tau2 = m$se.tau2, i2 = m$I2, h2 = m$H2, r2 = m$R2,
       qm = m$QM, qmp = m$QMp, qe = m$QE, qep = m$QEp, loglik = as.numeric(logLik(m)), tau2_ci = unname(q),
       predicted = as.numeric(c(pr$pred, pr$se, pr$ci.lb, pr$ci.ub, pr$pi.lb, pr$pi.ub)))
}
fits <- list()
for (method in c("REML", "ML", "DL", "PM", "EB", "HE", "SJ", "FE")) for (test in c("z", "knha", "adhoc"))
  for (mods in c("ablat", "both")) {
    f <- if (mods == "ablat") ~ ablat else ~ ablat + year
    fits[[length(fits) + 1]] <- c(list(mods = mods), one(f, method, test))
  }
robustly <- function(m, cluster) { r <- robust(m, cluster = cluster); list(beta = unname(drop(r$beta)), se = r$se, df = r$dfs, p = r$pval, vcov = unname(r$vb)) }
m <- rma(yi, vi, mods = ~ ablat, data = d, control = list(threshold = 1e-13, maxiter = 10000))
m0 <- rma(yi, vi, data = d, control = list(threshold = 1e-13, maxiter = 10000))
out <- list(
  source = paste0("regression.R: ", R.version.string, ", metafor ", packageVersion("metafor"),
    "; dat.bcg (Colditz et al. 1994), escalc(measure = 'RR'), rma(yi, vi, mods = ~ ablat [+ year]), predict at ablat 30 [and year 1965], robust(cluster =)"),
  yi = as.numeric(d$yi), vi = as.numeric(d$vi), ablat = d$ablat, year = d$year, group = d$group, fits = fits,
  robust = list(by_trial = robustly(m, d$trial), by_group = robustly(m, d$group), mean_by_trial = robustly(m0, d$trial)))
write_json(out, "regression.json", digits = NA, auto_unbox = TRUE, pretty = FALSE)
