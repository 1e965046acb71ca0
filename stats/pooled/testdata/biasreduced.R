# Writes biasreduced.json: means with CR2 standard errors and Satterthwaite degrees
# of freedom, each estimate a cluster of its own, by metafor's robust(clubSandwich =
# TRUE) on dat.bcg, dat.molloy2014 and six made-up estimates of very unequal
# weights. Run here: Rscript biasreduced.R
suppressPackageStartupMessages({library(metafor); library(clubSandwich); library(jsonlite)})
bcg <- escalc(measure = "RR", ai = tpos, bi = tneg, ci = cpos, di = cneg, data = dat.bcg)
molloy <- escalc(measure = "ZCOR", ri = ri, ni = ni, data = dat.molloy2014)
sets <- list(
  bcg = list(y = as.numeric(bcg$yi), v = as.numeric(bcg$vi)),
  molloy = list(y = as.numeric(molloy$yi), v = as.numeric(molloy$vi)),
  unequal = list(y = c(1.2, -0.4, 0.3, 2.5, 0.1, -1.1), v = c(0.01, 0.3, 0.5, 2, 0.25, 1.5)),
  two = list(y = c(0.2, 1.1), v = c(0.1, 0.4)))
fits <- list()
for (set in names(sets)) for (method in c("REML", "DL", "FE")) {
  s <- sets[[set]]
  m <- rma(s$y, s$v, method = method, control = list(threshold = 1e-13, maxiter = 10000))
  r <- robust(m, cluster = seq_along(s$y), clubSandwich = TRUE)
  fits[[paste0(set, "_", method)]] <- list(estimate = unname(drop(r$beta)), se = r$se, df = r$dfs, t = unname(r$zval),
    p = r$pval, ci_low = r$ci.lb, ci_high = r$ci.ub)
}
write_json(list(
  source = paste0("biasreduced.R: ", R.version.string, ", metafor ", packageVersion("metafor"), ", clubSandwich ", packageVersion("clubSandwich"),
    "; sets bcg (Colditz et al. 1994) and molloy (Molloy et al. 2014) by escalc, unequal and two made up"),
  sets = sets, fits = fits), "biasreduced.json", digits = NA, auto_unbox = TRUE)
