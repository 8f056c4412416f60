// Not run by this project's checks: see settings.gradle.kts. Versions are those of pom.xml.
plugins {
    id("com.android.application")
    id("org.jetbrains.kotlin.android")
}

android {
    namespace = "steerwright.app"
    compileSdk = 35

    defaultConfig {
        applicationId = "steerwright.app"
        minSdk = 26
        targetSdk = 35
        versionCode = 1
        versionName = "0.1.0"
    }

    // The core's library comes from `cargo ndk` into src/main/jniLibs, the bridge's Kotlin from bindings/generate.sh.
    sourceSets["main"].apply {
        manifest.srcFile("AndroidManifest.xml")
        res.srcDirs("res")
        kotlin.srcDirs("src/main/kotlin", "../bridge/src/generated/kotlin", "../bridge/src/main/kotlin")
    }

    compileOptions {
        sourceCompatibility = JavaVersion.VERSION_17
        targetCompatibility = JavaVersion.VERSION_17
    }

    buildTypes {
        release {
            // JNA finds the bridge's classes by their names.
            isMinifyEnabled = false
        }
    }
}

kotlin {
    jvmToolchain(17)
}

dependencies {
    implementation("net.java.dev.jna:jna:5.19.1@aar")
    implementation("org.jetbrains.kotlinx:kotlinx-coroutines-core:1.11.0")
}
