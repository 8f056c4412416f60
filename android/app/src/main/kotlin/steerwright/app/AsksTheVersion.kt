package steerwright.app

/** Marks code that asks for the platform's version before it calls what came after API 26. */
@Retention(AnnotationRetention.BINARY)
@Target(AnnotationTarget.FUNCTION, AnnotationTarget.CLASS)
annotation class AsksTheVersion
